package backup

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"settlemark/db"
	"settlemark/internal/problem"
)

// Create writes a backup of the database behind the address, which is that of
// the login that owns it. The file is there whole or not at all; one of that
// name is only replaced when replace says so.
func (f File) Create(ctx context.Context, d *db.DB, address string, replace bool) (m Manifest, size int64, err error) {
	if _, err := os.Lstat(f.Path); err == nil && !replace {
		return m, 0, exists(f.Path)
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return m, 0, err
	}
	draft, err := os.CreateTemp(filepath.Dir(f.Path), "."+filepath.Base(f.Path)+"-*") // 0600
	if err != nil {
		return m, 0, err
	}
	defer os.Remove(draft.Name()) //nolint:errcheck // gone once it has its name
	sealed, err := f.Key.encrypt(draft)
	if err == nil {
		m, err = write(ctx, d, address, sealed)
	}
	if err == nil {
		err = sealed.Close()
	}
	if err := errors.Join(err, draft.Sync()); err != nil {
		return m, 0, errors.Join(err, draft.Close())
	}
	about, err := draft.Stat()
	if err := errors.Join(err, draft.Close()); err != nil {
		return m, 0, err
	}
	return m, about.Size(), f.settle(draft.Name(), replace)
}

// settle gives the finished file its name.
func (f File) settle(draft string, replace bool) error {
	place := os.Rename
	if !replace {
		place = os.Link // unlike a rename it never replaces
	}
	err := place(draft, f.Path)
	if errors.Is(err, fs.ErrExist) {
		return exists(f.Path)
	}
	if err != nil && !replace { // a file system without links, such as a share
		err = os.Rename(draft, f.Path)
	}
	if err != nil {
		return err
	}
	folder, err := os.Open(filepath.Dir(f.Path))
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}

func exists(path string) error {
	return problem.New(problem.Conflict, "%s is there already and was not touched. Give another name, or --replace.", path)
}
