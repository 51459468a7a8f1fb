package e2e_test

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"settlemark/internal/trial"
)

// cluster is a primary and one streaming standby on loopback.
type cluster struct {
	t     *testing.T
	dir   string
	ports [2]int // of the primary, of the standby
	up    [2]*exec.Cmd
	as    *syscall.Credential // nil: ourselves
}

// newCluster makes both and lets the standby follow; commits wait for the standbys named.
func newCluster(t *testing.T, standbys string) *cluster {
	t.Helper()
	c := newPrimary(t, 0)
	c.does("pg_basebackup", "-D", c.data(1), "-h", "127.0.0.1", "-p", strconv.Itoa(c.ports[0]), "-U", "postgres", "-c", "fast", "-R",
		"-d", "application_name=standby")
	c.start(1)
	c.waitsFor(0, standbys)
	return c
}

// newPrimary makes a server by itself, on a small disk of so many MB, 0 for that of the machine.
func newPrimary(t *testing.T, disk int) *cluster {
	t.Helper()
	dir, err := newData()
	if err != nil {
		t.Fatal(err)
	}
	c := &cluster{t: t, dir: dir}
	t.Cleanup(func() {
		for n := range c.up {
			c.kill(n)
		}
		_ = os.RemoveAll(dir)
	})
	if os.Geteuid() == 0 {
		c.become("postgres")
	}
	c.ports = [2]int{freePort(t), freePort(t)}
	if disk > 0 {
		c.mount(disk)
	}
	c.does("initdb", "-D", c.data(0), "-U", "postgres", "--auth=trust", "--data-checksums", "--wal-segsize=1", "--no-instructions")
	appendTo(t, filepath.Join(c.data(0), "postgresql.conf"), "shared_buffers = 16MB\nmax_connections = 120\nwal_keep_size = 64MB\n")
	c.start(0)
	c.sql(0, "create role settlemark_owner login; create role settlemark_app login")
	c.sql(0, "create database settlemark owner settlemark_owner")
	return c
}

// mount puts the primary on a disk of its own.
func (c *cluster) mount(mb int) {
	c.t.Helper()
	if err := os.Mkdir(c.data(0), 0o700); err != nil {
		c.t.Fatal(err)
	}
	if err := syscall.Mount("tmpfs", c.data(0), "tmpfs", 0, fmt.Sprintf("size=%dm,mode=0700,uid=%d,gid=%d", mb, c.as.Uid, c.as.Gid)); err != nil {
		c.t.Fatal("This test mounts a small disk, which is refused here: ", err)
	}
	c.t.Cleanup(func() {
		c.kill(0)
		_ = syscall.Unmount(c.data(0), 0)
	})
}

// waitsFor names the standbys that commits of a server wait for.
func (c *cluster) waitsFor(n int, standbys string) {
	c.t.Helper()
	c.sql(n, "alter system set synchronous_standby_names = '"+standbys+"'")
	c.sql(n, "select pg_reload_conf()")
	c.until(n, "show synchronous_standby_names", standbys)
}

// become lets the server run as that user: Postgres refuses to be root.
func (c *cluster) become(name string) {
	c.t.Helper()
	u, err := user.Lookup(name)
	if err != nil {
		c.t.Fatal(err)
	}
	uid, _ := strconv.Atoi(u.Uid)
	gid, _ := strconv.Atoi(u.Gid)
	if err := os.Chown(c.dir, uid, gid); err != nil {
		c.t.Fatal(err)
	}
	c.as = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
}

func freePort(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

func appendTo(t *testing.T, path, text string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteString(text); err != nil {
		t.Fatal(err)
	}
}

func (c *cluster) data(n int) string { return filepath.Join(c.dir, strconv.Itoa(n)) }

// program is one of the server's, of the newest version that is installed.
func (c *cluster) program(name string) string {
	c.t.Helper()
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/" + name) // fails on a bad pattern only
	if len(found) == 0 {
		return tool(c.t, name, "postgresql")
	}
	return found[len(found)-1]
}

func (c *cluster) command(name string, args ...string) *exec.Cmd {
	cmd := exec.Command(c.program(name), args...)
	cmd.Dir, cmd.Env = c.dir, []string{"PATH=/usr/bin:/bin", "LC_ALL=C.UTF-8", "TZ=UTC"}
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: c.as, Setpgid: true}
	return cmd
}

func (c *cluster) does(name string, args ...string) string {
	c.t.Helper()
	out, err := c.command(name, args...).CombinedOutput()
	if err != nil {
		c.t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return strings.TrimSpace(string(out))
}

// start brings a server up and waits until it answers.
func (c *cluster) start(n int) {
	c.t.Helper()
	log, err := os.Create(filepath.Join(c.dir, fmt.Sprintf("%d.log", n)))
	if err != nil {
		c.t.Fatal(err)
	}
	defer log.Close()
	c.up[n] = c.command("postgres", "-D", c.data(n), "-p", strconv.Itoa(c.ports[n]), "-c", "listen_addresses=127.0.0.1", "-c", "unix_socket_directories=")
	c.up[n].Stdout, c.up[n].Stderr = log, log
	if err := c.up[n].Start(); err != nil {
		c.t.Fatal(err)
	}
	for range 600 {
		if c.command("pg_isready", "-q", "-h", "127.0.0.1", "-p", strconv.Itoa(c.ports[n])).Run() == nil {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	text, _ := os.ReadFile(log.Name())
	c.t.Fatalf("the server does not answer:\n%s", text)
}

// kill ends a server with all its processes, as the loss of its machine does.
func (c *cluster) kill(n int) {
	if c.up[n] == nil {
		return
	}
	_ = c.up[n].Process.Kill()
	_ = c.up[n].Wait()
	c.up[n] = nil
	for left := workingIn(c.data(n)); len(left) > 0; left = workingIn(c.data(n)) {
		for _, pid := range left {
			_ = syscall.Kill(pid, syscall.SIGKILL)
		}
		time.Sleep(10 * time.Millisecond)
	}
}

// workingIn finds the processes of a server, each of which is its own group.
func workingIn(dir string) (pids []int) {
	links, _ := filepath.Glob("/proc/[0-9]*/cwd") // fails on a bad pattern only
	for _, link := range links {
		if cwd, err := os.Readlink(link); err == nil && cwd == dir {
			if pid, err := strconv.Atoi(strings.Split(link, "/")[2]); err == nil {
				pids = append(pids, pid)
			}
		}
	}
	return pids
}

func (c *cluster) sql(n int, statement string) string {
	c.t.Helper()
	return c.does("psql", "-X", "-A", "-t", "-q", "-v", "ON_ERROR_STOP=1", "-h", "127.0.0.1", "-p", strconv.Itoa(c.ports[n]), "-U", "postgres",
		"-d", c.database(statement), "-c", statement)
}

// database is the one that a statement is for.
func (c *cluster) database(statement string) string {
	if strings.HasPrefix(statement, "create ") || strings.HasPrefix(statement, "alter system") {
		return "postgres"
	}
	return "settlemark"
}

// until asks a server until it answers so.
func (c *cluster) until(n int, statement, want string) {
	c.t.Helper()
	got := ""
	for range 600 {
		if got = c.sql(n, statement); got == want {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	c.t.Fatalf("%s gives %q, want %q", statement, got, want)
}

// dsn names both servers; the driver finds the one that takes writes.
func (c *cluster) dsn(login string) string {
	return fmt.Sprintf("postgres://%s@127.0.0.1:%d,127.0.0.1:%d/settlemark?sslmode=disable&target_session_attrs=read-write", login, c.ports[0], c.ports[1])
}

func (c *cluster) env() []string {
	return []string{
		"DATABASE_URL=" + c.dsn("settlemark_app"), "DATABASE_OWNER_URL=" + c.dsn("settlemark_owner"),
		fmt.Sprintf("DATABASE_REPLICA_URL=postgres://settlemark_app@127.0.0.1:%d/settlemark?sslmode=disable", c.ports[1]),
	}
}

// stillStandby stops what receives the primary's log, as a network that hangs does; gone
// ends it without another look at what came meanwhile.
func (c *cluster) stillStandby() (gone func()) {
	c.t.Helper()
	pid, err := strconv.Atoi(c.sql(1, "select pid from pg_stat_wal_receiver"))
	if err != nil {
		c.t.Fatal(err)
	}
	if err := syscall.Kill(pid, syscall.SIGSTOP); err != nil {
		c.t.Fatal(err)
	}
	return func() {
		_ = syscall.Kill(pid, syscall.SIGTERM)
		_ = syscall.Kill(pid, syscall.SIGCONT)
	}
}

// TestCluster: two processes of the program over a primary and a standby, from which
// they also read. The primary is lost while people work, and the standby takes over.
func TestCluster(t *testing.T) {
	t.Run("F4_with_a_synchronous_standby", func(t *testing.T) {
		failsOver(t, "Grade A", "ANY 1 (standby)")
	})
	if trial.Full {
		t.Run("F4_with_an_asynchronous_standby", func(t *testing.T) { failsOver(t, "Grade B", "") })
	}
}

func failsOver(t *testing.T, grade, standbys string) {
	servers := newCluster(t, standbys)
	data, err := newData()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(data) })
	servers.sql(0, "alter role settlemark_app set synchronous_commit = off")
	says(t, 1, "what was acknowledged may be lost in a crash", append(servers.env(), "SETTLEMARK_DATA="+data, "SETTLEMARK_LISTEN=127.0.0.1:0"), "serve")
	servers.sql(0, "alter role settlemark_app reset synchronous_commit")
	first := mustLaunch(t, data, servers.env()...)
	first.owner = servers.dsn("settlemark_owner")
	second := mustLaunch(t, data, servers.env()...)
	says(t, 1, grade, append(servers.env(), "SETTLEMARK_DATA="+data), "doctor")
	servers.readFrom(first)

	s := &stormy{t: t, app: first, env: servers.env(), engineer: visitAs(t, first, "marit"), lossy: grade != "Grade A"}
	s.run = s.engineer.opens("BH-03", "return-to-service/1")
	s.base.Store(first.url + " " + second.url)
	s.under(t, grade+": primary lost and standby promoted", func(book *ledger) {
		book.waits(t, 10)
		gone := func() {}
		if trial.Full {
			gone = servers.stillStandby()
			time.Sleep(2 * time.Second)
		}
		servers.kill(0)
		gone()
		servers.does("pg_ctl", "promote", "-D", servers.data(1))
		servers.waitsFor(1, "") // it has no standby yet
	})
	servers.until(1, "select count(*)"+listeners, "2")
}

// readFrom shows that a search goes to the standby, and to the primary while that is behind.
func (c *cluster) readFrom(a *app) {
	c.t.Helper()
	quality := visitAs(c.t, a, "anwen")
	const reads = " from (select coalesce(sum(seq_scan + idx_scan), 0) as n from pg_stat_user_tables where relname = 'releases') s"
	a.logs(c.t, `"msg":"reading from the replica"`, 1)
	before := c.sql(1, "select n"+reads)
	quality.reads("/certificates")
	c.until(1, "select n > "+before+reads, "t")
	c.sql(1, "select pg_wal_replay_pause()")
	a.logs(c.t, `"msg":"no longer reading from the replica"`, 1)
	quality.reads("/certificates")
	c.sql(1, "select pg_wal_replay_resume()")
	a.logs(c.t, `"msg":"reading from the replica"`, 2)
}

// logs waits until the program has logged something so often.
func (a *app) logs(t *testing.T, what string, times int) {
	t.Helper()
	for range 600 {
		if strings.Count(a.stderr.String(), what) >= times {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("it did not log %s %d times:\n%s", what, times, a.stderr)
}
