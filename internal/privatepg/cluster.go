package privatepg

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// initialise makes the database cluster where there is none. It works beside
// the final name, so that a half-made cluster is never mistaken for one.
func (s *Server) initialise(ctx context.Context) error {
	if _, err := os.Stat(s.folder.data()); !errors.Is(err, os.ErrNotExist) {
		return folderRefused(s.folder.dir, err)
	}
	if _, err := s.account.name(); err != nil {
		return &problem.Error{Kind: problem.Invalid, Cause: err, Sentence: words.Say(
			"The user with the number %d has no entry in /etc/passwd, so Postgres can't make its data folder. "+
				"Add the user, or set DATABASE_URL to a server that you have.", s.account.uid)}
	}
	unfinished := s.folder.unfinished()
	if err := vacate(ctx, unfinished); err != nil {
		return err
	}
	if err := makeOwn(unfinished, s.account); err != nil {
		return folderRefused(s.folder.dir, err)
	}
	if err := s.initdb(unfinished); err != nil {
		return err
	}
	return os.Rename(unfinished, s.folder.data())
}

func (s *Server) initdb(dir string) error {
	args := []string{
		"--pgdata", dir, "--username", superuser, "--encoding=UTF8", "--locale=C.UTF-8", "--lc-messages=C",
		"--data-checksums", "--auth-local=trust", "--auth-host=reject", "--no-instructions",
	}
	if s.throwaway {
		args = append(args, "--no-sync", "--wal-segsize=1")
	}
	cmd := command(s.folder.dir, s.account, filepath.Join(s.programs.dir, "initdb"), args...)
	output, err := s.folder.openLog()
	if err != nil {
		return err
	}
	defer output.Close() //nolint:errcheck // the child has its own copy
	cmd.Stdout, cmd.Stderr = output, output
	p, err := spawn(cmd, syscall.SIGKILL)
	if err != nil {
		return err
	}
	<-p.exited
	if p.err != nil {
		return fmt.Errorf("initdb: %w: %s", p.err, s.folder.lastWords())
	}
	return nil
}

// arguments are set on the command line at each start, so that an edited
// configuration file can't weaken what an acknowledged write means.
func (s *Server) arguments() []string {
	settings := []string{
		"listen_addresses=", "port=" + port,
		"unix_socket_directories=" + s.folder.run(), "unix_socket_permissions=0700",
		"timezone=UTC", "log_timezone=UTC", "log_checkpoints=off",
	}
	if s.throwaway {
		settings = append(settings, "fsync=off", "synchronous_commit=off", "full_page_writes=off",
			"shared_buffers=16MB", "max_connections=200", "wal_level=minimal", "max_wal_senders=0")
	} else {
		settings = append(settings, "fsync=on", "synchronous_commit=on", "full_page_writes=on", "max_connections=60")
	}
	if s.source != nil {
		settings = append(settings, "hot_standby=off", "archive_mode=off", "recovery_target_timeline=latest", "restore_command=cp ../wal/%f %p")
	}
	args := []string{"-D", s.folder.data()}
	for _, setting := range settings {
		args = append(args, "-c", setting)
	}
	return args
}

// answers waits until the server takes connections; recovery after a crash may
// take its time.
func (s *Server) answers(ctx context.Context, p *process) error {
	for {
		conn, err := pgx.Connect(ctx, s.url(superuser, "postgres"))
		if err == nil {
			return conn.Close(ctx)
		}
		select {
		case <-p.exited:
			return fmt.Errorf("postgres: %w: %s", p.err, s.folder.lastWords())
		case <-ctx.Done():
			return fmt.Errorf("postgres does not answer: %w: %w", ctx.Err(), err)
		case <-time.After(pause):
		}
	}
}

// createLogins makes the two logins and the database where they are missing.
// What each login may do is for the migrations to say.
func (s *Server) createLogins(ctx context.Context) error {
	conn, err := pgx.Connect(ctx, s.url(superuser, "postgres"))
	if err != nil {
		return err
	}
	defer conn.Close(ctx) //nolint:errcheck // nothing is pending
	for _, step := range []struct{ present, create string }{
		{`select exists (select from pg_roles where rolname = '` + ownerLogin + `')`, `create role ` + ownerLogin + ` login`},
		{`select exists (select from pg_roles where rolname = '` + AppLogin + `')`, `create role ` + AppLogin + ` login`},
		{`select exists (select from pg_database where datname = '` + database + `')`, `create database ` + database + ` owner ` + ownerLogin},
	} {
		var present bool
		if err := conn.QueryRow(ctx, step.present).Scan(&present); err != nil {
			return err
		}
		if present {
			continue
		}
		if _, err := conn.Exec(ctx, step.create); err != nil {
			return err
		}
	}
	return nil
}
