package privatepg

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// port is part of the socket's file name only; nothing listens on a network.
const port = "5432"

// longestSocketPath is what fits into sockaddr_un with its closing zero.
const longestSocketPath = 107

// folder is the place of one private server. The folder itself belongs to who
// starts us, so that the user who runs Postgres can't put links where we, maybe
// as root, write; data and run belong to the user who runs Postgres.
type folder struct {
	dir  string
	lock *os.File
}

func (f folder) data() string       { return filepath.Join(f.dir, "data") }
func (f folder) unfinished() string { return filepath.Join(f.dir, "data.init") }
func (f folder) run() string        { return filepath.Join(f.dir, "run") }
func (f folder) logFile() string    { return filepath.Join(f.dir, "server.log") }
func (f folder) socket() string     { return filepath.Join(f.run(), ".s.PGSQL."+port) }

// openFolder makes the folder where it is missing and locks it.
func openFolder(dir string) (folder, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return folder{}, err
	}
	if err := makeEnterable(dir); err != nil {
		return folder{}, folderRefused(dir, err)
	}
	// /proc shows working folders with links resolved.
	if dir, err = filepath.EvalSymlinks(dir); err != nil {
		return folder{}, err
	}
	f := folder{dir: dir}
	if n := len(f.socket()); n > longestSocketPath {
		return folder{}, problem.New(problem.Invalid,
			"The folder %s is too long for a database socket (%d bytes, at most %d). Set SETTLEMARK_DATA to a shorter path.",
			dir, n, longestSocketPath)
	}
	if f.lock, err = os.Open(dir); err != nil {
		return folder{}, folderRefused(dir, err)
	}
	if err := syscall.Flock(int(f.lock.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		f.unlock()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return folder{}, problem.New(problem.Conflict,
				"Settlemark is already running on %s. Stop it first, or set SETTLEMARK_DATA to another folder.", dir)
		}
		return folder{}, fmt.Errorf("lock %s: %w", dir, err)
	}
	return f, folderRefused(dir, os.Chmod(dir, 0o711)) //nolint:gosec // another user runs Postgres below it; data and run are 0700
}

func folderRefused(dir string, err error) error {
	if !errors.Is(err, os.ErrPermission) {
		return err
	}
	return &problem.Error{Kind: problem.Invalid, Cause: err, Sentence: words.Say(
		"The folder %s belongs to another user. Start Settlemark as that user, or set SETTLEMARK_DATA to a folder of yours.", dir)}
}

func (f folder) unlock() { _ = f.lock.Close() }

// makeEnterable makes a folder and its missing parents so that the user who
// runs Postgres can pass through them, whatever the umask of who starts us.
func makeEnterable(dir string) error {
	if _, err := os.Stat(dir); err == nil || !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if err := makeEnterable(filepath.Dir(dir)); err != nil {
		return err
	}
	if err := os.Mkdir(dir, 0o711); err != nil && !errors.Is(err, os.ErrExist) { //nolint:gosec // see above
		return err
	}
	return os.Chmod(dir, 0o711) //nolint:gosec // see above
}

// makeOwn makes an empty folder that only the given account may enter.
func makeOwn(dir string, a account) error {
	if err := os.RemoveAll(dir); err != nil {
		return err
	}
	if err := os.Mkdir(dir, 0o700); err != nil {
		return err
	}
	return os.Chown(dir, int(a.uid), int(a.gid))
}

// openLog opens the server's log for appending.
func (f folder) openLog() (*os.File, error) {
	return os.OpenFile(f.logFile(), os.O_WRONLY|os.O_CREATE|os.O_APPEND|syscall.O_NOFOLLOW, 0o600)
}

// keepLastLog starts a new server log and keeps the one before.
func (f folder) keepLastLog() error {
	err := os.Rename(f.logFile(), f.logFile()+".1")
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	return err
}
