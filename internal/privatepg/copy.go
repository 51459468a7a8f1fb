package privatepg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"

	"github.com/jackc/pgx/v5"

	"settlemark/internal/problem"
)

// Copy is a base backup in plain form with its manifest, as pg_basebackup makes
// it, and the folder that the server's log (WAL) was archived to.
type Copy struct{ Base, WAL string }

// StartCopy brings up a server on a copy of the backup, rolled forward to the
// end of the archive, in a temporary folder that Close removes. Backup and
// archive are only read. It refuses what does not hold what its manifest says,
// and an archive with a gap or a damaged record before its end, where Postgres
// by itself would stop there and say nothing.
func StartCopy(ctx context.Context, c Copy, log *slog.Logger) (*Server, error) {
	dir, err := os.MkdirTemp("", "settlemark-copy-")
	if err != nil {
		return nil, err
	}
	server, err := start(ctx, dir, &Server{throwaway: true, source: &c, log: log})
	if err != nil {
		_ = os.RemoveAll(dir)
	}
	return server, err
}

func (s *Server) bringUpCopy(ctx context.Context) (*process, error) {
	if err := copyTree(ctx, s.source.Base, s.folder.data(), s.account); err != nil {
		return nil, fmt.Errorf("the base backup: %w", err)
	}
	var err error
	if s.programs, err = findPrograms(s.folder, s.account); err != nil {
		return nil, err
	}
	if err := s.verifyBase(ctx); err != nil {
		return nil, err
	}
	if err := s.gatherWAL(ctx); err != nil {
		return nil, err
	}
	if err := s.settleCopy(); err != nil {
		return nil, err
	}
	p, err := s.launch(ctx)
	if err != nil {
		return nil, fmt.Errorf("the copy does not come up: %w", err)
	}
	if s.database, err = s.holding(ctx); err != nil {
		p.end(s.log)
		return nil, err
	}
	return p, nil
}

// verifyBase compares every file with the manifest. The log is looked at by gatherWAL.
func (s *Server) verifyBase(ctx context.Context) error {
	if _, err := os.Stat(filepath.Join(s.folder.data(), "backup_manifest")); err != nil {
		return problem.New(problem.Invalid,
			"%s has no backup_manifest, so nobody can say whether it is whole. Make base backups in plain form with pg_basebackup.", s.source.Base)
	}
	program := s.programs.tool("pg_verifybackup")
	if !executable(program) {
		return problem.New(problem.Invalid, "This machine has no pg_verifybackup beside its Postgres %s. Install it (apt install postgresql-%[1]s).", s.programs.major)
	}
	return boundTo(ctx, command(s.folder.dir, s.account, program, "--no-parse-wal", "--quiet", s.folder.data()), "pg_verifybackup")
}

// settleCopy replaces the settings of the server that was backed up: they may
// name files, libraries and places of that machine, and archive into its archive.
func (s *Server) settleCopy() error {
	for name, text := range map[string]string{
		"postgresql.conf": "", "postgresql.auto.conf": "", "pg_ident.conf": "", "pg_hba.conf": "local all all trust\n", "recovery.signal": "",
	} {
		path := filepath.Join(s.folder.data(), name)
		if err := os.RemoveAll(path); err != nil {
			return err
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			return err
		}
		if err := os.Chown(path, int(s.account.uid), int(s.account.gid)); err != nil {
			return err
		}
	}
	return nil
}

// holding finds the database with our schema.
func (s *Server) holding(ctx context.Context) (string, error) {
	conn, err := pgx.Connect(ctx, s.url(superuser, "postgres"))
	if err != nil {
		return "", err
	}
	rows, err := conn.Query(ctx, `select datname::text from pg_database where datallowconn and not datistemplate order by datname <> 'settlemark', datname`)
	if err != nil {
		return "", err
	}
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err := errors.Join(err, conn.Close(ctx)); err != nil {
		return "", err
	}
	for _, name := range names {
		if conn, err = pgx.Connect(ctx, s.url(superuser, name)); err != nil {
			return "", err
		}
		var found bool
		err := conn.QueryRow(ctx, `select exists (select from pg_tables where schemaname = 'settlemark' and tablename = 'runs')`).Scan(&found)
		if err := errors.Join(err, conn.Close(ctx)); err != nil || found {
			return name, err
		}
	}
	return "", problem.New(problem.Invalid, "The backup holds no database of Settlemark.")
}

// copyTree copies folders and files for the account alone.
func copyTree(ctx context.Context, from, to string, a account) error {
	from, err := filepath.EvalSymlinks(from)
	if err != nil {
		return err
	}
	return filepath.WalkDir(from, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || ctx.Err() != nil {
			return errors.Join(err, ctx.Err())
		}
		rel, err := filepath.Rel(from, path)
		if err != nil {
			return err
		}
		target := filepath.Join(to, rel)
		switch {
		case rel == "postmaster.pid" || rel == "postmaster.opts":
			return nil
		case entry.IsDir():
			return makeOwn(target, a)
		case entry.Type().IsRegular():
			return copyFile(path, target, a)
		default:
			return fmt.Errorf("%s is neither a file nor a folder: backups with tablespaces or links are not read", path)
		}
	})
}

func copyFile(from, to string, a account) error {
	in, err := os.Open(from) //nolint:gosec // the operator names the backup
	if err != nil {
		return err
	}
	defer in.Close()                                                      //nolint:errcheck // it was only read
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600) //nolint:gosec // below our own folder
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Chown(int(a.uid), int(a.gid)), out.Close())
}
