package main

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"settlemark/internal/trial"
)

// under is a program started as systemd would: with sockets that outlive it, and one
// that it tells how far it is.
type under struct {
	log     io.Writer
	running *os.Process
	sockets []*os.File
	told    net.PacketConn
	env     []string
}

func underSystemd(t *testing.T, sockets int) (u *under, addresses []string) {
	t.Helper()
	u = &under{log: t.Output()}
	for range sockets {
		l, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
		must(t, err)
		file, err := l.(*net.TCPListener).File()
		must(t, err)
		must(t, l.Close()) // the file holds it open
		t.Cleanup(func() { _ = file.Close() })
		u.sockets, addresses = append(u.sockets, file), append(addresses, "http://"+l.Addr().String())
	}
	notify := filepath.Join(t.TempDir(), "notify")
	told, err := (&net.ListenConfig{}).ListenPacket(t.Context(), "unixgram", notify)
	must(t, err)
	t.Cleanup(func() { _ = told.Close() })
	u.told = told
	t.Cleanup(func() { _ = u.running.Kill() })
	u.env = append(os.Environ(), "NOTIFY_SOCKET="+notify, fmt.Sprint("LISTEN_FDS=", sockets),
		"SETTLEMARK_DATA="+serverFolder(t), "SETTLEMARK_DEMO=0", "DATABASE_URL=", "DATABASE_OWNER_URL=",
		"SETTLEMARK_LISTEN=127.0.0.1:1", "SETTLEMARK_METRICS_LISTEN=127.0.0.1:1") // what it inherits counts
	return u, addresses
}

// start returns once the program says that it is ready.
func (u *under) start(t *testing.T) *exec.Cmd {
	t.Helper()
	cmd := exec.Command("sh", "-c", "LISTEN_PID=$$ exec settlemark")
	cmd.Env, cmd.ExtraFiles, cmd.Stderr = u.env, u.sockets, u.log
	must(t, cmd.Start())
	u.running = cmd.Process
	u.hears(t, "READY=1")
	return cmd
}

func (u *under) stop(t *testing.T, cmd *exec.Cmd) {
	t.Helper()
	must(t, cmd.Process.Signal(syscall.SIGTERM))
	u.hears(t, "STOPPING=1")
	if err := cmd.Wait(); err != nil {
		t.Errorf("it ended with %v", err)
	}
}

func (u *under) hears(t *testing.T, want string) {
	t.Helper()
	must(t, u.told.SetReadDeadline(time.Now().Add(10*time.Second)))
	text := make([]byte, 100)
	n, _, err := u.told.ReadFrom(text)
	if err != nil || string(text[:n]) != want {
		t.Fatalf("systemd was told %q, want %q (%v)", text[:n], want, err)
	}
}

// ask opens a connection of its own, as a browser does whose last one was closed.
func ask(ctx context.Context, address string) (status int, body string, err error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return 0, "", err
	}
	r.Close = true
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		return 0, "", err
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	return a.StatusCode, string(text), err
}

// TestRestart restarts the program under load. The socket outlives it, so requests wait.
func TestRestart(t *testing.T) {
	u, addresses := underSystemd(t, 2)
	site, figures := addresses[0], addresses[1]
	app := u.start(t)
	t.Run("it is ready, once the log is open", func(t *testing.T) {
		if status, body, err := ask(t.Context(), site+"/readyz"); status != http.StatusOK || body != "ready\n" {
			t.Errorf("%d %q, %v", status, body, err)
		}
	})
	t.Run("figures are shown on a socket of their own and name routes, never what was asked for", func(t *testing.T) {
		_, _, err := ask(t.Context(), site+"/units/SECRET-7")
		must(t, err)
		_, body, err := ask(t.Context(), figures+"/metrics")
		must(t, err)
		for _, want := range []string{
			`settlemark_http_request_seconds_count{method="GET",route="/readyz",status="200"} 1`, `route="/units/{tag}"`,
			"settlemark_log_waiting_leaves ", "settlemark_log_stopped 0", "settlemark_disk_free_bytes ", "settlemark_database_connections_most ",
			"settlemark_event_streams 0", "go_goroutines ", "process_resident_memory_bytes ",
		} {
			if !strings.Contains(body, want) {
				t.Errorf("no %s", want)
			}
		}
		if strings.Contains(body, "SECRET") || strings.Contains(body, " NaN") {
			t.Error(body)
		}
		if status, _, _ := ask(t.Context(), site+"/metrics"); status != http.StatusNotFound {
			t.Errorf("the site itself shows them: %d", status)
		}
	})
	t.Run("no request fails while it is restarted", func(t *testing.T) {
		var all sync.WaitGroup
		var mu sync.Mutex
		asked, failed, longest := 0, 0, time.Duration(0)
		ended, stop := context.WithCancel(t.Context())
		for range 8 {
			all.Go(func() {
				for ended.Err() == nil {
					began := time.Now()
					status, _, err := ask(t.Context(), site+"/sign-in")
					mu.Lock()
					asked++
					longest = max(longest, time.Since(began))
					if err != nil || status != http.StatusOK {
						failed++
						t.Errorf("%d, %v", status, err)
					}
					mu.Unlock()
					time.Sleep(5 * time.Millisecond)
				}
			})
		}
		restarts := trial.Times(1, 5)
		for range restarts {
			time.Sleep(200 * time.Millisecond) // of ordinary work
			u.stop(t, app)
			app = u.start(t)
		}
		stop()
		all.Wait()
		fmt.Printf("figure: restarted %d times under 8 clients: %d requests, %d failed, the longest waited %d ms\n",
			restarts, asked, failed, longest.Milliseconds())
	})
	u.stop(t, app)
}
