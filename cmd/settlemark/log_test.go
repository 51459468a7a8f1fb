package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestLogCommands(t *testing.T) {
	folder := serverFolder(t)
	t.Setenv("SETTLEMARK_DATA", folder)
	t.Setenv("SETTLEMARK_LISTEN", "127.0.0.1:0")
	t.Setenv("SETTLEMARK_DEMO", "0")
	t.Setenv("DATABASE_URL", "")
	export := filepath.Join(t.TempDir(), "export")
	t.Setenv("SETTLEMARK_EXPORT", export)
	s := serveHere(t)
	defer func() { s.end() }()
	expect := func(t *testing.T, want int, says string, args ...string) {
		t.Helper()
		if status, out := typed(t, "", args...); status != want || !strings.Contains(out, says) {
			t.Errorf("%v: status %d, %s", args, status, out)
		}
	}
	// sealed waits for the server's next checkpoint.
	sealed := func(t *testing.T, begins string) {
		t.Helper()
		for range 100 {
			text, err := os.ReadFile(filepath.Join(export, "checkpoint"))
			if err == nil && strings.Contains(string(text), begins) {
				return
			}
			time.Sleep(100 * time.Millisecond)
		}
		t.Fatalf("no checkpoint of %q came", begins)
	}
	t.Run("fsck_finds_the_record_sound_while_the_program_serves", func(t *testing.T) {
		sealed(t, "/1\n")
		expect(t, 0, "sound", "fsck")
		expect(t, 0, "2 checkpoints", "fsck", "--checkpoint", filepath.Join(export, "checkpoint"))
	})
	t.Run("fsck_refuses_a_checkpoint_of_another_log", func(t *testing.T) {
		other := filepath.Join(t.TempDir(), "note")
		text := "press.example/1/1\n1\nAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\n\n— press.example/1/1 AAAAAAAA\n"
		if err := os.WriteFile(other, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		expect(t, 1, "the checkpoint from outside", "fsck", "--checkpoint", other)
		expect(t, 2, "no such file", "fsck", "--checkpoint", other+"x")
		expect(t, 2, "usage", "fsck", "now")
	})
	t.Run("the_log_is_exported", func(t *testing.T) {
		dir := t.TempDir()
		expect(t, 0, "1 epochs", "export-log", dir)
		for _, name := range []string{"policy.txt", "1/checkpoint"} {
			if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
				t.Error(err)
			}
		}
		expect(t, 2, "usage", "export-log")
	})
	t.Run("a_key_follows_another", func(t *testing.T) {
		expect(t, 1, "No new key signs yet", "log-key", "retire")
		expect(t, 0, "Both keys sign from now on", "log-key", "rotate")
		for range 50 { // until the server has sealed with both
			if status, _ := typed(t, "", "log-key", "retire"); status == 0 {
				break
			}
			time.Sleep(100 * time.Millisecond)
		}
		expect(t, 1, "No new key signs yet", "log-key", "retire")
		expect(t, 0, "sound", "fsck")
		expect(t, 2, "usage", "log-key", "turn")
	})
	t.Run("an_epoch_begins", func(t *testing.T) {
		expect(t, 2, "usage", "log-epoch", "new")
		expect(t, 0, "The log goes on as", "log-epoch", "new", "--reason", "drill")
		sealed(t, "/2\n")
		expect(t, 0, "sound", "fsck")
	})
	t.Run("fsck_runs_without_the_program_too", func(t *testing.T) {
		s.end()
		s.end = func() int { return 0 }
		expect(t, 0, "sound", "fsck")
	})
}

func TestWitnessCommand(t *testing.T) {
	dir := t.TempDir()
	policy := filepath.Join(dir, "policy.txt")
	if err := os.WriteFile(policy, []byte("quorum none\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if status, out := typed(t, "", "witness"); status != 2 || !strings.Contains(out, "usage") {
		t.Errorf("status %d, %s", status, out)
	}
	if status, out := typed(t, "", "witness", "--name", "w", "--data", dir, "--policy", policy+"x"); status != 1 {
		t.Errorf("status %d, %s", status, out)
	}
	if status, out := typed(t, "", "witness", "--name", "w", "--data", dir, "--policy", policy, "--listen", "nowhere:x"); status != 1 {
		t.Errorf("status %d, %s", status, out)
	}
	about, err := os.Stat(filepath.Join(dir, "witness.key"))
	if err != nil || about.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", about, err)
	}
}
