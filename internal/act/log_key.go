package act

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/mod/sumdb/note"

	"settlemark/internal/durable"
	"settlemark/internal/ledger"
)

// logKey is one private key of the log. The file holds one, or two while one
// follows another.
type logKey struct {
	private, vkey string
	signer        note.Signer
}

// newLogKey makes a key; its name is the log's origin.
func newLogKey(origin string) (logKey, error) {
	private, vkey, err := note.GenerateKey(rand.Reader, origin)
	if err != nil {
		return logKey{}, err
	}
	signer, err := note.NewSigner(private)
	return logKey{private: private, vkey: vkey, signer: signer}, err
}

// readLogKeys reads a key file; none when there is no file.
func readLogKeys(path string) ([]logKey, error) {
	about, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if about.Mode().Perm()&0o077 != 0 {
		return nil, stop("the key file %s can be read by others (%s); make it 0600 and consider whether the key is still secret", path, about.Mode().Perm())
	}
	text, err := os.ReadFile(path) //nolint:gosec // the operator names the file
	if err != nil {
		return nil, err
	}
	var keys []logKey
	for _, line := range strings.Fields(string(text)) {
		signer, err := note.NewSigner(line)
		if err != nil {
			return nil, stop("the key file %s is damaged; take it from its backup", path)
		}
		vkey, err := ledger.VerifierKey(line)
		if err != nil {
			return nil, err
		}
		keys = append(keys, logKey{private: line, vkey: vkey, signer: signer})
	}
	if len(keys) == 0 {
		return nil, stop("the key file %s is empty; take it from its backup", path)
	}
	return keys, nil
}

func writeLogKeys(path string, keys ...logKey) error {
	var text strings.Builder
	for _, k := range keys {
		fmt.Fprintln(&text, k.private)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	return durable.Write(path, []byte(text.String()))
}

func (l Log) nextKey() string { return l.Key + ".next" }

// HighWater is the file of the newest checkpoint that this machine signed.
func (l Log) HighWater() string { return filepath.Join(filepath.Dir(l.Key), "log.high-water") }

// verifiers is the policy that believes these keys and asks for no witnesses.
func verifiers(keys []logKey) (ledger.Policy, error) {
	text := ""
	for _, k := range keys {
		text += "log " + k.vkey + "\n"
	}
	return ledger.ReadPolicy([]byte(text + noQuorum))
}
