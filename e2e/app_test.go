// Package e2e_test drives the built program from outside, as people do: over
// HTTP and in a real browser, with a private Postgres in a temporary folder.
// It imports nothing of ours. A tool that is missing fails the tests with one
// sentence that says what to install.
package e2e_test

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// program is the built binary.
var program string

func TestMain(m *testing.M) {
	os.Exit(testMain(m))
}

func testMain(m *testing.M) int {
	dir, err := os.MkdirTemp("", "settlemark-e2e-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	program = filepath.Join(dir, "settlemark")
	build := exec.Command("go", "build", "-o", program, "../cmd/settlemark")
	build.Stderr = os.Stderr
	if err := build.Run(); err != nil {
		fmt.Fprintln(os.Stderr, "e2e: the program does not build:", err)
		return 1
	}
	status := m.Run()
	closeBrowser()
	if err := closeDemo(); err != nil {
		fmt.Fprintln(os.Stderr, "e2e: the demo:", err)
		return 1
	}
	return status
}

// tool finds a program that the tests need.
func tool(t *testing.T, name, debianPackage string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Fatalf("This test needs %s. Install the Debian package %s, or run make test.", name, debianPackage)
	}
	return path
}

// run runs a tool and gives what it printed.
func run(t *testing.T, name string, args ...string) []byte {
	t.Helper()
	cmd := exec.Command(name, args...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s%s", filepath.Base(name), strings.Join(args, " "), err, out, stderr.Bytes())
	}
	return out
}

// app is one running Settlemark.
type app struct {
	url    string
	data   string
	owner  string // address of the database as its owner
	cmd    *exec.Cmd
	stdout *transcript
	stderr *transcript
	ended  chan error

	mu       sync.Mutex
	password string            // everybody's
	apps     map[string]string // keys of authenticator apps by login; "" is everybody's
	signedIn map[string]*http.Cookie
	forgets  sync.Once
}

// transcript collects what a process says.
type transcript struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *transcript) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *transcript) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// newData makes a folder that the user who runs Postgres can enter: another one
// when root tests.
func newData() (string, error) {
	data, err := os.MkdirTemp("", "settlemark-e2e-data-")
	if err != nil {
		return "", err
	}
	return data, os.Chmod(data, 0o755)
}

// startApp starts an empty Settlemark of the test's own and stops it cleanly.
func startApp(t *testing.T) *app {
	t.Helper()
	data, err := newData()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(data) })
	a, err := launch(data, "127.0.0.1:0", "SETTLEMARK_DEMO=0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.stop(); err != nil {
			t.Errorf("the program did not end cleanly: %v", err)
		}
		if loud := a.loud(); loud != "" {
			t.Errorf("the program logged:\n%s", loud)
		}
	})
	return a
}

var (
	servesLine   = regexp.MustCompile(`(?m)^Settlemark serves (http://\S+)$`)
	demoPassword = regexp.MustCompile(`password of everybody: (.+)`)
	demoKey      = regexp.MustCompile(`authenticator app of everybody: ([A-Z2-7]+)`)
)

// launch starts the program and waits until it serves.
func launch(data, listen string, env ...string) (*app, error) {
	a := &app{password: password, apps: map[string]string{}, signedIn: map[string]*http.Cookie{}, data: data, stdout: &transcript{}, stderr: &transcript{}, ended: make(chan error, 1)}
	a.owner = "postgres://settlemark_owner@/settlemark?host=" + filepath.Join(data, "run")
	a.cmd = exec.Command(program)
	a.cmd.Env = append([]string{
		"PATH=" + os.Getenv("PATH"), "HOME=" + data,
		"SETTLEMARK_DATA=" + data, "SETTLEMARK_LISTEN=" + listen,
	}, env...)
	a.cmd.Stdout, a.cmd.Stderr = a.stdout, a.stderr
	a.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := a.cmd.Start(); err != nil {
		return nil, err
	}
	go func() { a.ended <- a.cmd.Wait() }()
	deadline := time.After(60 * time.Second)
	for {
		if m := servesLine.FindStringSubmatch(a.stdout.String()); m != nil && strings.Contains(a.stdout.String(), "  stop ") {
			a.url = m[1]
			if demo := demoPassword.FindStringSubmatch(a.stdout.String()); demo != nil {
				a.password = demo[1]
				a.apps[""] = demoKey.FindStringSubmatch(a.stdout.String())[1]
			}
			return a, nil
		}
		select {
		case err := <-a.ended:
			return nil, fmt.Errorf("the program ended before it served: %w\n%s", err, a.stderr)
		case <-deadline:
			_ = a.cmd.Process.Kill()
			return nil, fmt.Errorf("the program did not serve within a minute\n%s", a.stderr)
		case <-time.After(5 * time.Millisecond):
		}
	}
}

// stop asks the program to end, as ^C does.
func (a *app) stop() error {
	if err := a.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		return err
	}
	select {
	case err := <-a.ended:
		return err
	case <-time.After(20 * time.Second):
		_ = a.cmd.Process.Kill()
		<-a.ended
		return fmt.Errorf("still there 20 s after SIGTERM")
	}
}

// kill ends the program as a power cut does.
func (a *app) kill() {
	_ = a.cmd.Process.Kill()
	<-a.ended
}

// loud gives the errors that the program logged.
func (a *app) loud() string {
	var out strings.Builder
	for line := range strings.Lines(a.stderr.String()) {
		if strings.Contains(line, `"level":"ERROR"`) || strings.HasPrefix(line, "panic:") {
			out.WriteString(line)
		}
	}
	return out.String()
}

// said waits for what the program printed and gives the first group.
func (a *app) said(t *testing.T, pattern string) string {
	t.Helper()
	wanted := regexp.MustCompile(pattern)
	for range 200 {
		if m := wanted.FindStringSubmatch(a.stdout.String()); m != nil {
			return m[1]
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatalf("the program did not say %s but\n%s", pattern, a.stdout)
	return ""
}

// The demo is started once for all tests that only look at it, or that work on
// a run of their own.
var demo struct {
	once sync.Once
	app  *app
	err  error
}

func demoApp(t *testing.T) *app {
	t.Helper()
	demo.once.Do(func() {
		var data string
		if data, demo.err = newData(); demo.err != nil {
			return
		}
		// A mail server, so that pages offer it; nobody asks for an e-mail.
		demo.app, demo.err = launch(data, "127.0.0.1:0", "SETTLEMARK_SMTP_URL=smtp://127.0.0.1:9", "SETTLEMARK_SMTP_FROM=settlemark@brackenhill.example")
	})
	if demo.err != nil {
		t.Fatal(demo.err)
	}
	return demo.app
}

func closeDemo() error {
	if demo.app == nil {
		return nil
	}
	defer os.RemoveAll(demo.app.data)
	if err := demo.app.stop(); err != nil {
		return err
	}
	if loud := demo.app.loud(); loud != "" {
		return fmt.Errorf("it logged:\n%s", loud)
	}
	return nil
}

func TestProgram(t *testing.T) {
	t.Run("says where it serves and is healthy", func(t *testing.T) {
		a := startApp(t)
		ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
		defer cancel()
		r, err := http.NewRequestWithContext(ctx, http.MethodGet, a.url+"/healthz", http.NoBody)
		if err != nil {
			t.Fatal(err)
		}
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		if answer.StatusCode != http.StatusOK {
			t.Errorf("healthz answers %s", answer.Status)
		}
	})
}
