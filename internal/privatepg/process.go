package privatepg

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"time"

	"settlemark/internal/problem"
)

// How long a server may take: to leave after it was asked, after it was told,
// and for one that an earlier process of ours left behind to be gone.
const (
	fastStop     = 20 * time.Second
	hardStop     = 10 * time.Second
	leftoverStop = 30 * time.Second
	pause        = 20 * time.Millisecond
)

// process is one postmaster, or initdb.
type process struct {
	cmd    *exec.Cmd
	exited chan struct{}
	err    error // read after exited
}

// command prepares a program to run as the account, inside dir, with nothing of
// our environment: PGDATA and its like would steer it.
func command(dir string, a account, name string, args ...string) *exec.Cmd {
	cmd := exec.Command(name, args...) //nolint:gosec // the programs that findPrograms chose
	cmd.Dir = dir
	cmd.Env = []string{"PATH=/usr/bin:/bin", "LC_ALL=C.UTF-8", "TZ=UTC"}
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // or ^C in the terminal ends the server before us
	if a.switched {
		cmd.SysProcAttr.Credential = &syscall.Credential{Uid: a.uid, Gid: a.gid}
	}
	return cmd
}

// spawn starts cmd so that it gets the signal when we die, however we die.
func spawn(cmd *exec.Cmd, whenWeDie syscall.Signal) (*process, error) {
	cmd.SysProcAttr.Pdeathsig = whenWeDie
	p := &process{cmd: cmd, exited: make(chan struct{})}
	started := make(chan error)
	go func() {
		// The kernel sends the signal when the starting thread ends, so the
		// thread must live as long as the child.
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := cmd.Start()
		started <- err
		if err == nil {
			p.err = cmd.Wait()
			close(p.exited)
		}
	}()
	return p, <-started
}

// end stops a postmaster: fast, then hard.
func (p *process) end(log *slog.Logger) {
	for _, step := range []struct {
		signal syscall.Signal
		grace  time.Duration
	}{{syscall.SIGINT, fastStop}, {syscall.SIGQUIT, hardStop}} {
		_ = p.cmd.Process.Signal(step.signal) // an error means that it is gone
		select {
		case <-p.exited:
			return
		case <-time.After(step.grace):
			log.Warn("postgres is slow to stop", "signal", step.signal.String(), "waited", step.grace)
		}
	}
}

// launch starts the server on the folder's data and waits until it answers.
func (s *Server) launch(ctx context.Context) (*process, error) {
	if err := vacate(ctx, s.folder.data()); err != nil {
		return nil, err
	}
	if err := makeOwn(s.folder.run(), s.account); err != nil {
		return nil, folderRefused(s.folder.dir, err)
	}
	output, err := s.folder.openLog()
	if err != nil {
		return nil, err
	}
	defer output.Close() //nolint:errcheck // the child has its own copy
	cmd := command(s.folder.dir, s.account, filepath.Join(s.programs.dir, "postgres"), s.arguments()...)
	cmd.Stdout, cmd.Stderr = output, output
	p, err := spawn(cmd, syscall.SIGINT)
	if err != nil {
		return nil, err
	}
	if err := s.answers(ctx, p); err != nil {
		p.end(s.log)
		return nil, err
	}
	return p, nil
}

// vacate waits until no process works in dir and removes the pid file that a
// dead server left. The file proves nothing: its number may belong to somebody
// else by now, or to a zombie, and then Postgres refuses to start. A live server
// has its data as its working folder. (The socket's lock file has the same
// fault; launch makes its folder anew.)
func vacate(ctx context.Context, dir string) error {
	ctx, cancel := context.WithTimeout(ctx, leftoverStop)
	defer cancel()
	for pid := workingIn(dir); pid != 0; pid = workingIn(dir) {
		select {
		case <-ctx.Done():
			return problem.New(problem.Conflict,
				"A database server is still running on %s (process %d). Stop it, then start Settlemark again.", dir, pid)
		case <-time.After(pause):
		}
	}
	err := os.Remove(filepath.Join(dir, "postmaster.pid"))
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	return err
}

// workingIn finds a process whose working folder is dir; 0 when there is none.
func workingIn(dir string) int {
	links, _ := filepath.Glob("/proc/[0-9]*/cwd") // fails on a bad pattern only
	for _, link := range links {
		// A process of another user can't be read and can't be our server.
		if cwd, err := os.Readlink(link); err == nil && cwd == dir {
			pid, _ := strconv.Atoi(strings.Split(link, "/")[2])
			return pid
		}
	}
	return 0
}

// lastWords is the end of the server's log, for an error.
func (f folder) lastWords() string {
	text, err := os.ReadFile(f.logFile())
	if err != nil {
		return fmt.Sprintf("no log: %v", err)
	}
	return lastLines(string(text))
}
