package privatepg

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"settlemark/internal/problem"
)

// Tools are the programs beside a Postgres server that dump and restore.
type Tools struct{ dir string }

// FindTools finds those for a server of this version: of the same version or,
// where there are none, the newest. Older ones can't read a newer server.
func FindTools(server int) (Tools, error) {
	best, newest := Tools{}, 0
	for _, dir := range programFolders() {
		out, err := exec.Command(filepath.Join(dir, "pg_dump"), "--version").Output() //nolint:gosec,noctx // a folder that holds a server; it ends at once
		m := versionLine.FindSubmatch(out)
		if err != nil || m == nil {
			continue
		}
		major, _ := strconv.Atoi(string(m[1])) // digits
		if major == server {
			return Tools{dir: dir}, nil
		}
		if major > newest {
			best, newest = Tools{dir: dir}, major
		}
	}
	if newest < server {
		return best, problem.New(problem.Invalid,
			"The database is Postgres %d, and this machine has no pg_dump and pg_restore of that version. Install them (apt install postgresql-%d).", server, server)
	}
	return best, nil
}

// Dump writes the schema as it stood at the exported snapshot, in Postgres's
// own archive format. Rows of the tables in without are left out. Rights and
// owners are not in it: the migrations set them.
func (t Tools) Dump(ctx context.Context, address, snapshot string, schemas, without []string, to io.Writer) error {
	args := []string{"--format=custom", "--snapshot=" + snapshot, "--no-owner", "--no-privileges", "--no-password"}
	for _, schema := range schemas {
		args = append(args, "--schema="+schema)
	}
	for _, table := range without {
		args = append(args, "--exclude-table-data="+table)
	}
	return t.run(ctx, "pg_dump", args, address, nil, to)
}

// Restore reads what Dump wrote into the database, all of it or nothing.
func (t Tools) Restore(ctx context.Context, address string, from io.Reader) error {
	return t.run(ctx, "pg_restore", []string{
		"--single-transaction", "--exit-on-error", "--no-owner", "--no-privileges", "--no-password",
	}, address, from, nil)
}

func (t Tools) run(ctx context.Context, program string, args []string, address string, in io.Reader, out io.Writer) error {
	address, env, err := connectBy(address)
	if err != nil {
		return err
	}
	cmd := exec.CommandContext(ctx, filepath.Join(t.dir, program), append(args, "--dbname="+address)...) //nolint:gosec // the programs that FindTools chose
	cmd.Env = env
	return finish(cmd, program, in, out)
}

// finish runs a tool to its end; the error holds the end of what it complained of.
func finish(cmd *exec.Cmd, program string, in io.Reader, out io.Writer) error {
	var complaint bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = in, out, &complaint
	cmd.Cancel = func() error { return cmd.Process.Signal(syscall.SIGTERM) }
	cmd.WaitDelay = 5 * time.Second
	err := cmd.Run()
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w: %s", program, err, lastLines(complaint.String()))
}

// connectBy keeps the password out of the list of processes, which everybody
// on the machine can read, and drops what only our driver knows.
func connectBy(address string) (string, []string, error) {
	u, err := url.Parse(address)
	if err != nil || u.Scheme != "postgres" && u.Scheme != "postgresql" {
		return "", nil, problem.New(problem.Invalid,
			"The database's address must look like postgres://LOGIN@HOST:5432/settlemark, with the password as in any Postgres address.")
	}
	env := []string{"PATH=/usr/bin:/bin", "LC_ALL=C.UTF-8"}
	for _, pair := range os.Environ() {
		if strings.HasPrefix(pair, "PG") || strings.HasPrefix(pair, "HOME=") { // certificates and password files of the driver
			env = append(env, pair)
		}
	}
	if password, ok := u.User.Password(); ok {
		env = append(env, "PGPASSWORD="+password)
		u.User = url.User(u.User.Username())
	}
	query := u.Query()
	for key := range query {
		if strings.HasPrefix(key, "pool_") || strings.HasPrefix(key, "default_query_") || strings.HasSuffix(key, "_cache_capacity") {
			query.Del(key)
		}
	}
	u.RawQuery = query.Encode()
	return u.String(), env, nil
}

// ErrNoTool says that a program is not installed.
var ErrNoTool = errors.New("not installed")

// Amcheck looks at every page of the server's tables and indexes. It is
// ErrNoTool where the program or its extension is not there.
func (s *Server) Amcheck(ctx context.Context) error {
	program := s.programs.tool("pg_amcheck")
	if !executable(program) {
		return ErrNoTool
	}
	cmd := command(s.folder.dir, s.account, program, "--install-missing", "--heapallindexed", "--jobs=2", "--no-password",
		"--host="+s.folder.run(), "--port="+port, "--username="+superuser, s.database)
	err := boundTo(ctx, cmd, "pg_amcheck")
	if err != nil && strings.Contains(err.Error(), "extension control file") {
		return ErrNoTool
	}
	return err
}

// boundTo runs a command of ours until it or the context ends.
func boundTo(ctx context.Context, cmd *exec.Cmd, program string) error {
	bound := exec.CommandContext(ctx, cmd.Path, cmd.Args[1:]...) //nolint:gosec // the same program
	bound.Dir, bound.Env, bound.SysProcAttr = cmd.Dir, cmd.Env, cmd.SysProcAttr
	var said bytes.Buffer
	if err := finish(bound, program, nil, &said); err != nil {
		return fmt.Errorf("%w %s", err, lastLines(said.String()))
	}
	return nil
}

func lastLines(text string) string {
	lines := strings.Split(strings.TrimSpace(text), "\n")
	return strings.Join(lines[max(0, len(lines)-4):], "; ")
}
