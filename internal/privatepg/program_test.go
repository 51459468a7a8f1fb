package privatepg_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"settlemark/internal/privatepg"
	"settlemark/internal/problem"
)

// The tests kill a whole program and change its user, so they run one: this
// test binary, started again with the data folder in programFolder.
const programFolder = "SETTLEMARK_TEST_PROGRAM_FOLDER"

func TestMain(m *testing.M) {
	if dir := os.Getenv(programFolder); dir != "" {
		os.Exit(program(dir))
	}
	code := m.Run()
	if binary != "" {
		_ = os.Remove(binary)
	}
	os.Exit(code)
}

// program starts a server, prints "up URL", then stores numbers and prints each
// once its commit is acknowledged, until it is told to end.
func program(dir string) int {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	server, err := privatepg.Start(ctx, dir, slog.New(slog.NewTextHandler(os.Stderr, nil)))
	if refusal := (*problem.Error)(nil); errors.As(err, &refusal) {
		fmt.Println("refused", refusal.Sentence)
		return 1
	}
	if err != nil {
		fmt.Println("error", err)
		return 1
	}
	fmt.Println("up", server.OwnerURL())
	for ctx.Err() == nil {
		if err := store(ctx, server.OwnerURL()); err != nil {
			time.Sleep(20 * time.Millisecond) // the server is away; what was not printed doesn't count
		}
	}
	server.Close()
	fmt.Println("closed", server.Err())
	return 0
}

func store(ctx context.Context, url string) error {
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	if _, err := conn.Exec(ctx, `create table if not exists numbers (n bigint generated always as identity)`); err != nil {
		return err
	}
	for {
		var n int64
		if err := conn.QueryRow(ctx, `insert into numbers default values returning n`).Scan(&n); err != nil {
			return err
		}
		fmt.Println("stored", n)
		time.Sleep(time.Millisecond)
	}
}

// running is a started program.
type running struct {
	cmd   *exec.Cmd
	lines chan string // what it prints; closed at its end
	last  string      // the last number it acknowledged; read after the end
}

// runProgram starts the program on dir as the given user; nil is ourselves.
func runProgram(t *testing.T, dir string, as *syscall.Credential, env ...string) *running {
	t.Helper()
	cmd := exec.Command(openBinary(t))
	cmd.Dir = "/"
	cmd.Env = append(append(os.Environ(), programFolder+"="+dir), env...)
	cmd.Stderr = os.Stderr
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: as}
	out, in, err := os.Pipe() // StdoutPipe loses what is unread when the program ends
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stdout = in
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	in.Close()
	r := &running{cmd: cmd, lines: make(chan string, 100_000)}
	go func() {
		for s := bufio.NewScanner(out); s.Scan(); {
			if n, ok := strings.CutPrefix(s.Text(), "stored "); ok {
				r.last = n
			}
			r.lines <- s.Text()
		}
		close(r.lines)
	}()
	t.Cleanup(r.kill)
	return r
}

// binary is this test binary, copied once to where every user may run it.
var binary string

func openBinary(t *testing.T) string {
	t.Helper()
	if binary != "" {
		return binary
	}
	in, err := os.Open("/proc/self/exe")
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := os.CreateTemp("", "privatepg-program-")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(out, in); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(out.Chmod(0o755), out.Close()); err != nil {
		t.Fatal(err)
	}
	binary = out.Name()
	return binary
}

// openFolder is a temporary folder that every user may enter and write.
func openFolder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "privatepg-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { gone(t, dir); os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o777|os.ModeSticky); err != nil {
		t.Fatal(err)
	}
	return dir
}

// next gives the rest of the next line that starts with word.
func (r *running) next(t *testing.T, word string) string {
	t.Helper()
	limit := time.After(60 * time.Second)
	for {
		select {
		case line, more := <-r.lines:
			if !more {
				t.Fatalf("the program ended before it printed %q", word)
			}
			if rest, ok := strings.CutPrefix(line, word+" "); ok {
				return rest
			}
		case <-limit:
			t.Fatalf("the program did not print %q within a minute", word)
		}
	}
}

// acknowledged waits for the end and gives the last number.
func (r *running) acknowledged() string {
	for more := true; more; {
		_, more = <-r.lines
	}
	return r.last
}

func (r *running) kill() {
	_ = r.cmd.Process.Kill()
	_ = r.cmd.Wait()
}
