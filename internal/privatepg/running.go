package privatepg

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// Running gives the address of the server that another process runs under dir,
// as the login that serves; "" when none does, and then Start may.
func Running(dir string) (string, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return "", err
	}
	open, err := os.Open(dir) //nolint:gosec // the operator's own folder
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", folderRefused(dir, err)
	}
	defer open.Close() //nolint:errcheck // it gives up the lock, if we got it
	err = syscall.Flock(int(open.Fd()), syscall.LOCK_SH|syscall.LOCK_NB)
	if err == nil {
		return "", nil
	}
	if !errors.Is(err, syscall.EWOULDBLOCK) {
		return "", err
	}
	if dir, err = filepath.EvalSymlinks(dir); err != nil {
		return "", err
	}
	return (&Server{folder: folder{dir: dir}}).AppURL(), nil
}
