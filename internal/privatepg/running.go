package privatepg

import (
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"syscall"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Running gives the address of the server that another process runs under dir,
// as the login that serves; "" when none does, and then Start may.
func Running(dir string) (string, error) {
	s, err := running(dir)
	if s == nil {
		return "", err
	}
	return s.AppURL(), nil
}

// Reach gives the server whose data lives under dir: the one that another
// process runs, which Close then leaves alone, or one that it starts. There must
// be a database already.
func Reach(ctx context.Context, dir string, log *slog.Logger) (*Server, error) {
	if _, err := os.Stat(folder{dir: dir}.data()); err != nil {
		return nil, &problem.Error{Kind: problem.NotFound, Cause: err, Sentence: words.Say(
			"There is no database in %s. Set SETTLEMARK_DATA to the folder that the server uses.", dir)}
	}
	if s, err := running(dir); s != nil || err != nil {
		return s, err
	}
	return Start(ctx, dir, log)
}

// running gives a server that is somebody else's to close, nil for none.
func running(dir string) (*Server, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	open, err := os.Open(dir) //nolint:gosec // the operator's own folder
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, folderRefused(dir, err)
	}
	defer open.Close() //nolint:errcheck // it gives up the lock, if we got it
	err = syscall.Flock(int(open.Fd()), syscall.LOCK_SH|syscall.LOCK_NB)
	if err == nil {
		return nil, nil
	}
	if !errors.Is(err, syscall.EWOULDBLOCK) {
		return nil, err
	}
	if dir, err = filepath.EvalSymlinks(dir); err != nil {
		return nil, err
	}
	s := &Server{folder: folder{dir: dir}, database: database, done: make(chan struct{})}
	s.stopOnce.Do(func() { close(s.done) })
	return s, nil
}
