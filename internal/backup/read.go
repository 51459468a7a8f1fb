package backup

import (
	"archive/tar"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"hash"
	"io"
	"maps"
	"os"
	"slices"

	"settlemark/db"
	"settlemark/internal/problem"
)

// reader takes the archive apart; every byte counts.
type reader struct {
	tar    *tar.Reader
	from   io.Reader // what is read of the file, summed
	sum    hash.Hash
	pieces int
}

// File is a backup file with what opens it.
type File struct {
	Path string
	Key  Key
}

// Check reads the whole file and says what is inside. It is an error when a
// single byte is not as it was written, and when this version is too old for it.
func (f File) Check() (m Manifest, err error) {
	if err := f.read(&m, io.Discard); err != nil {
		return m, err
	}
	if newest := db.NewestMigration(); m.Schema > newest {
		return m, problem.New(problem.Invalid, "The backup was made by a newer version of Settlemark (schema %d, this one knows %d). "+
			"Restore it with that version or a later one.", m.Schema, newest)
	}
	return m, nil
}

// dump gives the pg_dump archive inside.
func (f File) dump(to io.Writer) error { return f.read(&Manifest{}, to) }

func (f File) read(m *Manifest, to io.Writer) (err error) {
	open, err := os.Open(f.Path)
	if err != nil {
		return err
	}
	defer open.Close() //nolint:errcheck // it was only read
	plain, err := f.Key.decrypt(open)
	if err != nil {
		return err
	}
	r := &reader{sum: sha256.New()}
	r.from = io.TeeReader(plain, r.sum)
	r.tar = tar.NewReader(r.from)
	if err := r.manifest(m); err != nil {
		return unreadable(err)
	}
	for {
		last, err := r.piece(to)
		if err != nil || last {
			return unreadable(err)
		}
	}
}

// unreadable is one sentence for everything that a damaged file runs into.
func unreadable(err error) error {
	var refusal *problem.Error
	if err == nil || errors.As(err, &refusal) || errors.Is(err, errTarget) {
		return err
	}
	if errors.Is(err, io.EOF) {
		err = io.ErrUnexpectedEOF
	}
	return damaged("%v", err)
}

func (r *reader) manifest(m *Manifest) error {
	h, err := r.tar.Next()
	if err != nil || h.Name != manifestName {
		return problem.New(problem.Invalid, "The file is not a backup of Settlemark, or it is damaged from its beginning. Give the file that settlemark backup wrote.")
	}
	if err := json.NewDecoder(r.tar).Decode(m); err != nil {
		return damaged("its manifest can't be read: %v", err)
	}
	if m.Format != format {
		return problem.New(problem.Invalid, "The backup is of the form %q, which this version does not know. Restore it with the version that made it.", m.Format)
	}
	return nil
}

// errTarget is an error of where the dump is written to, not of the file.
var errTarget = errors.New("dump")

// piece reads the next entry; the last one is the sum.
func (r *reader) piece(to io.Writer) (last bool, err error) {
	h, err := r.tar.Next()
	if err != nil {
		return false, err
	}
	if h.Name == sumName {
		return true, r.end()
	}
	r.pieces++
	if h.Name != pieceName(r.pieces) {
		return false, damaged("%s stands where %s belongs", h.Name, pieceName(r.pieces))
	}
	content, err := io.ReadAll(io.LimitReader(r.tar, pieceSize+1))
	if err != nil {
		return false, err
	}
	if _, err := to.Write(content); err != nil {
		return false, errors.Join(errTarget, err)
	}
	return false, nil
}

// end compares the sum; behind it stand zeros alone, as many as a tar has.
func (r *reader) end() error {
	found := hex.EncodeToString(r.sum.Sum(nil))
	said, err := io.ReadAll(r.tar)
	if err != nil {
		return err
	}
	if string(said) != found {
		return damaged("its SHA-256 is not what it says")
	}
	const block = 512
	rest, err := io.ReadAll(io.LimitReader(r.from, 4*block))
	if err != nil {
		return err
	}
	if !bytes.Equal(rest, make([]byte, block-len(said)%block+2*block)) {
		return damaged("something else stands at its end")
	}
	return nil
}

func union(a, b map[string]int64) []string {
	names := slices.Sorted(maps.Keys(a))
	for name := range b {
		if _, known := a[name]; !known {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}
