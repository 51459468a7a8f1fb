package feed

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"settlemark/internal/durable"
)

// spool keeps posts on disk, a file each, in the order in which they were made.
type spool struct{ dir string }

const pattern = "*.ndjson"

func openSpool(dir string) (spool, error) {
	return spool{dir}, os.MkdirAll(filepath.Join(dir, "refused"), 0o700)
}

// add is done when the rows would survive a power cut.
func (s spool) add(rows [][]byte, at time.Time) error {
	name := fmt.Sprintf("%020d.ndjson", at.UnixNano())
	return durable.Write(filepath.Join(s.dir, name), append(bytes.Join(rows, []byte("\n")), '\n'))
}

// oldest is the path of the post to be sent next, "" for none.
func (s spool) oldest() (string, error) {
	names, err := filepath.Glob(filepath.Join(s.dir, pattern)) // sorted
	if err != nil || len(names) == 0 {
		return "", err
	}
	return names[0], nil
}

// refused is a row that the server did not take, with its reason.
type refused struct {
	Row     json.RawMessage `json:"row"`
	Problem string          `json:"problem"`
}

// done takes a post out, and keeps what was refused of it for somebody to read.
func (s spool) done(path string, left []refused) error {
	if len(left) > 0 {
		var text bytes.Buffer
		lines := json.NewEncoder(&text)
		for _, r := range left {
			if err := lines.Encode(r); err != nil {
				return err
			}
		}
		if err := durable.Write(filepath.Join(s.dir, "refused", filepath.Base(path)), text.Bytes()); err != nil {
			return err
		}
	}
	if err := os.Remove(path); !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}
