// Package backup makes backup files, restores them, and proves by drills that a
// restore would work.
//
// Create writes one file: a manifest, and Postgres's own dump of the record as
// of the manifest's instant. Restore reads it into an empty database and checks
// the whole record before it is content. Drill does the same beside the living
// record, on a server of its own, also with base backups, and compares with a
// checkpoint of the log that was kept elsewhere.
//
// Keys are never inside: whoever has record and keys can do what the site can.
//
// # The file
//
// A tar archive, so that it can be taken apart without this program:
//
//	manifest.json        what is inside
//	dump/00000001 …      pieces of one pg_dump archive, in order
//	sha256               of every byte of the file up to the end of this entry's header
//
// With a key the whole file is encrypted in the age format.
package backup

import (
	"archive/tar"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"io"
	"strings"
	"time"

	"settlemark/db"
	"settlemark/internal/privatepg"
	"settlemark/internal/problem"
)

const (
	format    = "settlemark-backup/1"
	pieceSize = 4 << 20

	manifestName = "manifest.json"
	sumName      = "sha256"
)

// schemas are what is dumped: the record, and the empty tables of the job queue.
// A restored server finds by itself what is to be done.
var schemas = []string{"settlemark", "river"}

// withoutRows are tables that a restored server begins anew: who was signed in
// signs in again.
var withoutRows = []string{"sessions"}

// Manifest says what a backup holds, as of one instant.
type Manifest struct {
	Format     string           `json:"format"`
	At         time.Time        `json:"at"`
	Server     int              `json:"server"`     // version of Postgres
	Schema     int64            `json:"schema"`     // newest migration
	Checkpoint string           `json:"checkpoint"` // newest signed checkpoint of the log; "" for none
	Rows       map[string]int64 `json:"rows"`       // by table
}

// Total counts all rows.
func (m Manifest) Total() (n int64) {
	for _, rows := range m.Rows {
		n += rows
	}
	return n
}

// differences names the tables whose rows are not as many as the manifest says.
func (m Manifest) differences(found map[string]int64) (faults []string) {
	for _, table := range union(m.Rows, found) {
		want, promised := m.Rows[table]
		have, there := found[table]
		switch {
		case !there:
			faults = append(faults, fmt.Sprintf("table %s is missing", table))
		case !promised:
			faults = append(faults, fmt.Sprintf("table %s is not in the manifest", table))
		case want != have:
			faults = append(faults, fmt.Sprintf("table %s has %d rows, the manifest says %d", table, have, want))
		}
	}
	return faults
}

// write makes the file's content. The rows are counted in the same instant
// that is dumped.
func write(ctx context.Context, d *db.DB, address string, to io.Writer) (m Manifest, err error) {
	err = d.Snapshot(ctx, func(s db.Snapshot) error {
		tools, err := privatepg.FindTools(s.Server)
		if err != nil {
			return err
		}
		for _, table := range withoutRows {
			s.Rows[table] = 0
		}
		m = Manifest{Format: format, At: s.At, Server: s.Server, Schema: s.Schema, Checkpoint: string(s.Checkpoint), Rows: s.Rows}
		w := newWriter(to)
		if err := w.manifest(m); err != nil {
			return err
		}
		empty := []string{"river.river_*"}
		for _, table := range withoutRows {
			empty = append(empty, "settlemark."+table)
		}
		if err := tools.Dump(ctx, address, s.ID, schemas, empty, w); err != nil {
			return err
		}
		return w.end()
	})
	return m, err
}

// writer makes the archive. It is an io.Writer for the dump.
type writer struct {
	tar    *tar.Writer
	sum    hash.Hash
	piece  []byte
	pieces int
}

func newWriter(to io.Writer) *writer {
	w := &writer{sum: sha256.New()}
	w.tar = tar.NewWriter(io.MultiWriter(to, w.sum))
	return w
}

func (w *writer) entry(name string, content []byte) error {
	err := w.tar.WriteHeader(&tar.Header{Name: name, Mode: 0o600, Size: int64(len(content)), Typeflag: tar.TypeReg, Format: tar.FormatUSTAR})
	if err == nil {
		_, err = w.tar.Write(content)
	}
	return err
}

func (w *writer) manifest(m Manifest) error {
	text, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return err
	}
	return w.entry(manifestName, append(text, '\n'))
}

func (w *writer) Write(p []byte) (int, error) {
	w.piece = append(w.piece, p...)
	for len(w.piece) >= pieceSize {
		if err := w.cut(pieceSize); err != nil {
			return 0, err
		}
	}
	return len(p), nil
}

func (w *writer) cut(n int) error {
	w.pieces++
	err := w.entry(pieceName(w.pieces), w.piece[:n])
	w.piece = append(w.piece[:0], w.piece[n:]...)
	return err
}

func pieceName(n int) string { return fmt.Sprintf("dump/%08d", n) }

// end writes what is left and seals the file.
func (w *writer) end() error {
	if err := w.cut(len(w.piece)); err != nil {
		return err
	}
	const digits = 2 * sha256.Size
	err := w.tar.WriteHeader(&tar.Header{Name: sumName, Mode: 0o600, Size: digits, Typeflag: tar.TypeReg, Format: tar.FormatUSTAR})
	if err != nil {
		return err
	}
	if _, err := io.WriteString(w.tar, hex.EncodeToString(w.sum.Sum(nil))); err != nil {
		return err
	}
	return w.tar.Close()
}

// damaged is what a file that is not whole is called.
func damaged(format string, args ...any) error {
	return problem.New(problem.Invalid, "The backup is damaged: "+format+". Take another copy of it.", args...)
}

// LogLine says how far the log of a backup goes.
func LogLine(checkpoint string) string {
	lines := strings.Split(checkpoint, "\n")
	if len(lines) < 2 {
		return "nothing was sealed"
	}
	return fmt.Sprintf("complete to entry %s of %s", lines[1], lines[0])
}
