package e2e_test

import (
	"errors"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"settlemark/internal/trial"
)

// asRoot is for faults that only root can bring about. make faults tries them for
// certain, make test where it can.
func asRoot(t *testing.T, also ...string) {
	t.Helper()
	lacks := ""
	if os.Geteuid() != 0 {
		lacks = "root"
	}
	for _, name := range also {
		if _, err := exec.LookPath(name); err != nil {
			lacks = "the program " + name
		}
	}
	switch {
	case lacks == "":
	case trial.Full:
		t.Fatalf("This test needs %s.", lacks)
	default:
		t.Skipf("This fault needs %s.", lacks)
	}
}

// overPrimary is the demo over a server of the test's own.
func overPrimary(t *testing.T, servers *cluster) *stormy {
	t.Helper()
	data, err := newData()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(data) })
	address := func(login string) string {
		return fmt.Sprintf("postgres://%s@127.0.0.1:%d/settlemark?sslmode=disable", login, servers.ports[0])
	}
	s := &stormy{t: t, env: []string{"DATABASE_URL=" + address("settlemark_app"), "DATABASE_OWNER_URL=" + address("settlemark_owner")}}
	s.app = mustLaunch(t, data, s.env...)
	s.app.owner = address("settlemark_owner")
	s.engineer = visitAs(t, s.app, "marit")
	s.run = s.engineer.opens("BH-03", "return-to-service/1")
	s.base.Store(s.app.url)
	return s
}

// ready waits until a load balancer is told so.
func (s *stormy) ready(t *testing.T, status int) {
	t.Helper()
	got := answer{}
	for range 1200 {
		if got = s.engineer.get("/readyz"); got.status == status {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("/readyz answers %d: %s", got.status, got.body)
}

// TestDiskFull: the database's disk is full while people record.
func TestDiskFull(t *testing.T) {
	asRoot(t)
	servers := newPrimary(t, 256)
	s := overPrimary(t, servers)
	s.ready(t, http.StatusOK)
	s.under(t, "disk of the database full", func(book *ledger) {
		book.waits(t, 10)
		ballast := filepath.Join(servers.data(0), "ballast")
		if err := fill(ballast); !errors.Is(err, syscall.ENOSPC) {
			t.Fatalf("the disk is not full: %v", err)
		}
		s.ready(t, http.StatusServiceUnavailable)
		if err := os.Remove(ballast); err != nil {
			t.Fatal(err)
		}
		servers.kill(0) // it may have given up already
		servers.start(0)
		s.ready(t, http.StatusOK)
	})
}

// fill writes until nothing more fits.
func fill(path string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	for block := make([]byte, 1<<20); err == nil; {
		if _, err = f.Write(block); err != nil && len(block) > 1 {
			block, err = block[:len(block)/2], nil
		}
	}
	return err
}

// TestDiskError: the disk fails to keep what the database tells it to.
func TestDiskError(t *testing.T) {
	asRoot(t, "strace")
	servers := newPrimary(t, 0)
	s := overPrimary(t, servers)
	rounds := trial.Times(1, 3)
	s.under(t, fmt.Sprintf("disk failed %d times to keep what was written", rounds), func(book *ledger) {
		for range rounds {
			book.waits(t, 10)
			args := []string{"-o", "/dev/null", "-e", "trace=fdatasync", "-e", "inject=fdatasync:error=EIO:when=2"}
			for _, pid := range strings.Fields(servers.sql(0, "select pid from pg_stat_activity where usename = 'settlemark_app'")) {
				args = append(args, "-p", pid)
			}
			if err := exec.Command(tool(t, "strace", "strace"), args...).Run(); err != nil { // until the database has ended them all
				t.Log(err)
			}
		}
	})
	log, err := os.ReadFile(filepath.Join(servers.dir, "0.log"))
	if n := strings.Count(string(log), "PANIC:"); err != nil || n < rounds {
		t.Errorf("the database met %d errors of its disk, want %d (%v)", n, rounds, err)
	}
}
