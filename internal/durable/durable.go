// Package durable writes small files so that they survive a crash: whole or
// not at all, and on the disk when Write returns.
package durable

import (
	"errors"
	"os"
	"path/filepath"
)

// Write puts the file in place, readable by its owner alone.
func Write(path string, text []byte) (err error) {
	dir := filepath.Dir(path)
	f, err := os.CreateTemp(dir, "."+filepath.Base(path)+"-*") // 0600
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = os.Remove(f.Name())
		}
	}()
	_, err = f.Write(text)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return err
	}
	d, err := os.Open(dir) //nolint:gosec // the operator's own path
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
