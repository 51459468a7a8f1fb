package e2e_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"settlemark/internal/trial"
)

// TestFaults breaks what the program stands on while people record.
func TestFaults(t *testing.T) {
	data, err := newData()
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(data)
	s := newStormy(t, data)
	t.Run("F1_the_program_is_killed", func(t *testing.T) {
		kills := trial.Times(5, 20)
		s.under(t, fmt.Sprintf("program killed %d times", kills), func(book *ledger) {
			for range kills {
				book.waits(t, 10)
				time.Sleep(time.Duration(rand.IntN(450)) * time.Millisecond)
				s.app.kill()
				s.again()
			}
		})
	})
	t.Run("F2_the_database_is_killed", func(t *testing.T) {
		kills, immediate := trial.Times(2, 5), trial.Times(2, 8)
		s.under(t, fmt.Sprintf("database killed %d times and stopped at once %d times", kills, immediate), func(book *ledger) {
			for n := range kills + immediate {
				book.waits(t, 10)
				time.Sleep(time.Duration(rand.IntN(450)) * time.Millisecond)
				signal := syscall.SIGKILL
				if n >= kills {
					signal = syscall.SIGQUIT // pg_ctl stop -m immediate
				}
				if err := syscall.Kill(s.postmaster(t), signal); err != nil {
					t.Fatal(err)
				}
			}
		})
	})
	if err := s.app.stop(); err != nil {
		t.Error(err)
	}
}

// postmaster is the process of the private server.
func (s *stormy) postmaster(t *testing.T) (pid int) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(s.app.data, "data", "postmaster.pid"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := fmt.Sscan(strings.Split(string(text), "\n")[0], &pid); err != nil || pid < 2 {
		t.Fatalf("%q names no process: %v", text, err)
	}
	return pid
}
