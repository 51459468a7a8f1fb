package privatepg_test

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"settlemark/internal/privatepg"
)

// users are those who may start a program here: root also as somebody else.
func users() map[string]*syscall.Credential {
	if os.Geteuid() != 0 {
		return map[string]*syscall.Credential{"an_ordinary_user": nil}
	}
	return map[string]*syscall.Credential{"root": nil, "an_ordinary_user": {Uid: 65534, Gid: 65534}}
}

func ask(t *testing.T, url, query string) string {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	var answer string
	if err := conn.QueryRow(t.Context(), query).Scan(&answer); err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	return answer
}

// serverOn finds the processes that work below dir.
func serverOn(dir string) []int {
	var pids []int
	links, _ := filepath.Glob("/proc/[0-9]*/cwd")
	for _, link := range links {
		if cwd, err := os.Readlink(link); err == nil && strings.HasPrefix(cwd, dir+"/") {
			pid, _ := strconv.Atoi(strings.Split(link, "/")[2])
			pids = append(pids, pid)
		}
	}
	return pids
}

func postmaster(t *testing.T, dir string) int {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, "data/postmaster.pid"))
	if err != nil {
		t.Fatal(err)
	}
	pid, err := strconv.Atoi(strings.SplitN(string(text), "\n", 2)[0])
	if err != nil {
		t.Fatal(err)
	}
	return pid
}

func gone(t *testing.T, dir string) {
	t.Helper()
	for range 500 {
		if len(serverOn(dir)) == 0 {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Fatalf("processes %v still work in %s", serverOn(dir), dir)
}

// holds checks that every acknowledged number is stored.
func holds(t *testing.T, url, last string) {
	t.Helper()
	if last == "" {
		t.Fatal("the program stored nothing, so this shows nothing")
	}
	if got := ask(t, url, `select count(*)::text from numbers where n <= `+last); got != last {
		t.Errorf("%s numbers were acknowledged and %s are there", last, got)
	}
}

// reachable waits until a server that was killed answers again.
func reachable(t *testing.T, url string) {
	t.Helper()
	var err error
	for range 500 {
		var conn *pgx.Conn
		if conn, err = pgx.Connect(t.Context(), url); err == nil {
			_ = conn.Close(t.Context())
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Fatal(err)
}

func TestStart(t *testing.T) {
	for name, user := range users() {
		t.Run("as_"+name, func(t *testing.T) {
			dir := filepath.Join(openFolder(t), "deep", "er")
			r := runProgram(t, dir, user)
			url := r.next(t, "up")
			r.next(t, "stored")
			status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", postmaster(t, dir)))
			if err != nil {
				t.Fatal(err)
			}
			if strings.Contains(string(status), "Uid:\t0") {
				t.Error("postgres runs as root")
			}
			for setting, want := range map[string]string{
				"fsync": "on", "synchronous_commit": "on", "full_page_writes": "on", "data_checksums": "on",
				"TimeZone": "UTC", "max_connections": "60", "server_encoding": "UTF8", "lc_collate": "C.UTF-8", "listen_addresses": "",
			} {
				if got := ask(t, url, "select current_setting('"+setting+"')"); got != want {
					t.Errorf("%s is %q, want %q", setting, got, want)
				}
			}
			for _, login := range []string{"settlemark_owner", "settlemark_app"} {
				as := strings.Replace(url, "settlemark_owner", login, 1)
				if got := ask(t, as, `select current_user || ' ' || current_database() || ' ' || rolsuper || rolcreatedb || rolcreaterole
					from pg_roles where rolname = current_user`); got != login+" settlemark falsefalsefalse" {
					t.Errorf("%s is %q", login, got)
				}
			}
		})
	}
}

func TestStop(t *testing.T) {
	for name, user := range users() {
		t.Run("clean_for_"+name, func(t *testing.T) {
			dir := filepath.Join(openFolder(t), "pg")
			r := runProgram(t, dir, user)
			r.next(t, "up")
			r.next(t, "stored")
			if err := r.cmd.Process.Signal(syscall.SIGTERM); err != nil {
				t.Fatal(err)
			}
			if got := r.next(t, "closed"); got != "<nil>" {
				t.Errorf("closed with %s", got)
			}
			if pids := serverOn(dir); len(pids) != 0 {
				t.Errorf("processes %v still work in %s", pids, dir)
			}
			control := exec.Command(serverProgram(t, "pg_controldata"), filepath.Join(dir, "data"))
			out, err := control.CombinedOutput()
			if err != nil || !strings.Contains(string(out), "shut down\n") {
				t.Errorf("not shut down cleanly: %v %s", err, out)
			}
		})
	}
	t.Run("a_signal_from_the_terminal_does_not_reach_the_server", func(t *testing.T) {
		dir := filepath.Join(openFolder(t), "pg")
		r := runProgram(t, dir, nil)
		r.next(t, "up")
		ours, _ := syscall.Getpgid(r.cmd.Process.Pid)
		theirs, err := syscall.Getpgid(postmaster(t, dir))
		if err != nil || ours == theirs {
			t.Errorf("program and server share the process group %d (%v)", ours, err)
		}
	})
}

// serverProgram finds a tool of the installed server.
func serverProgram(t *testing.T, name string) string {
	t.Helper()
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/" + name)
	if len(found) == 0 {
		t.Fatalf("%s is missing: apt install postgresql", name)
	}
	return found[len(found)-1]
}

func TestKill(t *testing.T) {
	for name, user := range users() {
		t.Run("the_server_ends_with_its_program_and_keeps_every_acknowledged_row_for_"+name, func(t *testing.T) {
			dir := filepath.Join(openFolder(t), "pg")
			r := runProgram(t, dir, user)
			r.next(t, "up")
			for range 50 {
				r.next(t, "stored")
			}
			r.kill()
			last := r.acknowledged()
			gone(t, dir)
			holds(t, runProgram(t, dir, user).next(t, "up"), last)
		})
		t.Run("program_and_server_at_once_and_a_start_right_after_for_"+name, func(t *testing.T) {
			dir := filepath.Join(openFolder(t), "pg")
			r := runProgram(t, dir, user)
			r.next(t, "up")
			for range 50 {
				r.next(t, "stored")
			}
			if err := syscall.Kill(postmaster(t, dir), syscall.SIGKILL); err != nil {
				t.Fatal(err)
			}
			r.kill()
			last := r.acknowledged()
			holds(t, runProgram(t, dir, user).next(t, "up"), last)
		})
		t.Run("a_killed_server_is_started_again_for_"+name, func(t *testing.T) {
			dir := filepath.Join(openFolder(t), "pg")
			r := runProgram(t, dir, user)
			url := r.next(t, "up")
			last := r.next(t, "stored")
			killed := postmaster(t, dir)
			if err := syscall.Kill(killed, syscall.SIGKILL); err != nil {
				t.Fatal(err)
			}
			reachable(t, url)
			if postmaster(t, dir) == killed {
				t.Error("the same server still runs")
			}
			holds(t, url, last)
		})
	}
}

func TestThrowaway(t *testing.T) {
	server, err := privatepg.StartThrowaway(t.Context(), slog.Default())
	if err != nil {
		t.Fatal(err)
	}
	defer server.Close()
	if got := ask(t, server.AppURL(), "select current_user::text"); got != "settlemark_app" {
		t.Errorf("app login is %s", got)
	}
	if got := ask(t, server.AdminURL(), "select current_setting('is_superuser')"); got != "on" {
		t.Errorf("admin is superuser: %s", got)
	}
	dir := ask(t, server.AdminURL(), "select current_setting('data_directory')")
	server.Close()
	if _, err := os.Stat(dir); !os.IsNotExist(err) {
		t.Errorf("%s is still there: %v", dir, err)
	}
}

// Docker compose makes the logins with db/logins.sql; both ways must give the same.
func TestLogins(t *testing.T) {
	server, err := privatepg.StartThrowaway(t.Context(), slog.Default())
	if err != nil {
		t.Fatal(err)
	}
	defer server.Close()
	const facts = `select (select string_agg(concat_ws(' ', rolname, rolcanlogin, rolsuper, rolcreatedb, rolcreaterole, rolbypassrls), ', ' order by rolname)
			from pg_roles where rolname like 'settlemark%')
		|| '; ' || (select pg_get_userbyid(datdba) || ' ' || pg_encoding_to_char(encoding) || ' ' || datcollate from pg_database where datname = 'settlemark')`
	admin := strings.Replace(server.AdminURL(), "/settlemark?", "/postgres?", 1)
	ours := ask(t, admin, facts)
	psql := exec.Command(serverProgram(t, "psql"), admin, "--no-psqlrc", "--quiet",
		"-c", "drop database settlemark", "-c", "drop role settlemark_owner", "-c", "drop role settlemark_app", "-f", "../../db/logins.sql")
	psql.Env = append(os.Environ(), "SETTLEMARK_OWNER_PASSWORD=owner-secret", "SETTLEMARK_APP_PASSWORD=it's secret")
	if out, err := psql.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if theirs := ask(t, admin, facts); theirs != ours {
		t.Errorf("logins.sql gives\n%s, privatepg gives\n%s", theirs, ours)
	}
}
