package privatepg_test

import (
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"settlemark/internal/privatepg"
)

func says(t *testing.T, got string, want ...string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(got, w) {
			t.Errorf("the refusal lacks %q: %s", w, got)
		}
	}
}

// stopped makes a data folder with a server that was run and closed.
func stopped(t *testing.T, user *syscall.Credential) (dir, last string) {
	t.Helper()
	dir = filepath.Join(openFolder(t), "pg")
	r := runProgram(t, dir, user)
	r.next(t, "up")
	r.next(t, "stored")
	if err := r.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	last = r.acknowledged()
	return dir, last
}

func TestRefusal(t *testing.T) {
	t.Run("a_second_copy_on_the_same_folder", func(t *testing.T) {
		dir := filepath.Join(openFolder(t), "pg")
		first := runProgram(t, dir, nil)
		first.next(t, "up")
		says(t, runProgram(t, dir, nil).next(t, "refused"), "already running on "+dir, "SETTLEMARK_DATA")
		first.next(t, "stored")
	})
	t.Run("data_of_another_version_and_leaves_it_alone", func(t *testing.T) {
		dir, last := stopped(t, nil)
		version := filepath.Join(dir, "data/PG_VERSION")
		right, err := os.ReadFile(version)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(version, []byte("9\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		says(t, runProgram(t, dir, nil).next(t, "refused"), "made by Postgres 9", "has Postgres "+strings.TrimSpace(string(right)), "Nothing was changed")
		if err := os.WriteFile(version, right, 0o600); err != nil {
			t.Fatal(err)
		}
		holds(t, runProgram(t, dir, nil).next(t, "up"), last)
	})
	t.Run("a_folder_too_long_for_a_socket", func(t *testing.T) {
		_, err := privatepg.Start(t.Context(), filepath.Join(openFolder(t), strings.Repeat("long", 25)), slog.Default())
		if err == nil {
			t.Fatal("it started")
		}
		says(t, err.Error(), "at most 107", "SETTLEMARK_DATA")
	})
	t.Run("no_Postgres_at_all_and_names_the_three_ways", func(t *testing.T) {
		t.Setenv("PATH", "/nonexistent")
		defer privatepg.SetDebianPrograms("/nonexistent/*/bin")()
		_, err := privatepg.Start(t.Context(), filepath.Join(openFolder(t), "pg"), slog.Default())
		if err == nil {
			t.Fatal("it started")
		}
		says(t, err.Error(), "apt install postgresql", "DATABASE_URL", "docker compose up")
	})
}

// Only root changes to another user, so only root meets these.
func TestRefusalForRoot(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("run as root to see these")
	}
	t.Run("a_folder_below_a_private_home", func(t *testing.T) {
		home := filepath.Join(openFolder(t), "home")
		if err := os.Mkdir(home, 0o700); err != nil {
			t.Fatal(err)
		}
		says(t, runProgram(t, filepath.Join(home, "pg"), nil).next(t, "refused"), "may not enter", "SETTLEMARK_DATA", "/var/lib/settlemark")
	})
	t.Run("a_folder_that_belongs_to_another_user", func(t *testing.T) {
		dir, _ := stopped(t, nil)
		says(t, runProgram(t, dir, &syscall.Credential{Uid: 65534, Gid: 65534}).next(t, "refused"), "belongs to another user")
	})
	t.Run("a_user_without_an_entry_in_passwd", func(t *testing.T) {
		as := &syscall.Credential{Uid: 54321, Gid: 54321}
		says(t, runProgram(t, filepath.Join(openFolder(t), "pg"), as).next(t, "refused"), "54321", "/etc/passwd")
	})
	t.Run("but_takes_over_the_folder_of_an_ordinary_user_as_that_user", func(t *testing.T) {
		dir, last := stopped(t, &syscall.Credential{Uid: 65534, Gid: 65534})
		holds(t, runProgram(t, dir, nil).next(t, "up"), last)
	})
}

func TestLeftovers(t *testing.T) {
	for name, user := range users() {
		t.Run("a_pid_file_whose_number_is_somebody_else_for_"+name, func(t *testing.T) {
			dir, last := stopped(t, user)
			// The stranger has the same user as the server: then kill(pid, 0) says "alive".
			info, err := os.Stat(filepath.Join(dir, "data"))
			if err != nil {
				t.Fatal(err)
			}
			owner := info.Sys().(*syscall.Stat_t)
			stranger := exec.Command("sleep", "60")
			if os.Geteuid() == 0 {
				stranger.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: owner.Uid, Gid: owner.Gid}}
			}
			if err := stranger.Start(); err != nil {
				t.Fatal(err)
			}
			defer func() { _ = stranger.Process.Kill(); _ = stranger.Wait() }()
			pid := strconv.Itoa(stranger.Process.Pid)
			content := pid + "\n" + dir + "/data\n1\n5432\n" + dir + "/run\n\n1 1\nready\n"
			for _, file := range []string{"data/postmaster.pid", "run/.s.PGSQL.5432.lock"} {
				path := filepath.Join(dir, file)
				if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
					t.Fatal(err)
				}
				if err := os.Chown(path, int(owner.Uid), int(owner.Gid)); err != nil {
					t.Fatal(err)
				}
			}
			holds(t, runProgram(t, dir, user).next(t, "up"), last)
		})
		t.Run("a_process_that_still_works_in_the_data_is_waited_for_for_"+name, func(t *testing.T) {
			dir, last := stopped(t, user)
			old := exec.Command("sleep", "2")
			old.Dir = filepath.Join(dir, "data")
			old.SysProcAttr = &syscall.SysProcAttr{Credential: user}
			if err := old.Start(); err != nil {
				t.Fatal(err)
			}
			ended := make(chan struct{})
			go func() { _ = old.Wait(); close(ended) }()
			url := runProgram(t, dir, user).next(t, "up")
			select {
			case <-ended:
			default:
				t.Error("a new server started beside it")
			}
			holds(t, url, last)
		})
		t.Run("a_half_made_cluster_is_made_again_for_"+name, func(t *testing.T) {
			dir := filepath.Join(openFolder(t), "pg")
			half := filepath.Join(dir, "data.init", "base")
			if err := os.MkdirAll(half, 0o711); err != nil {
				t.Fatal(err)
			}
			if user != nil {
				for _, path := range []string{dir, filepath.Dir(half), half} {
					if err := os.Chown(path, int(user.Uid), int(user.Gid)); err != nil {
						t.Fatal(err)
					}
				}
			}
			r := runProgram(t, dir, user)
			r.next(t, "up")
			if _, err := os.Stat(filepath.Join(dir, "data.init")); !os.IsNotExist(err) {
				t.Errorf("data.init is still there: %v", err)
			}
		})
	}
}
