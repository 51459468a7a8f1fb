package db

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/database"
	"github.com/pressly/goose/v3/lock"

	"settlemark/internal/problem"
)

// schema is where everything of ours lives.
const schema = "settlemark"

//go:embed migrations/*.sql
var migrations embed.FS

//go:embed roles.sql
var roles string

// Migrate brings the schema up to date as its owner and sets what the login
// appRole may do. Migrations only go forward. The login must exist.
func Migrate(ctx context.Context, ownerURL string, appRole string) (err error) {
	defer problem.Wrap(&err, "Migrate")
	config, err := pgx.ParseConfig(ownerURL)
	if err != nil {
		return fmt.Errorf("database address: %w", err)
	}
	settle(config, "60s")
	pool := stdlib.OpenDB(*config)
	defer func() { err = errors.Join(err, pool.Close()) }()
	if _, err := pool.ExecContext(ctx, "create schema if not exists settlemark"); err != nil {
		return explain(err)
	}
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	store, err := database.NewStore(database.DialectPostgres, "schema_versions")
	if err != nil {
		return err
	}
	locker, err := lock.NewPostgresSessionLocker() // two programs may start at once
	if err != nil {
		return err
	}
	provider, err := goose.NewProvider("", pool, files, goose.WithStore(store),
		goose.WithSessionLocker(locker), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	if _, err := provider.Up(ctx); err != nil {
		return err
	}
	tx, err := pool.BeginTx(ctx, nil)
	if err != nil {
		return explain(err)
	}
	defer func() { _ = tx.Rollback() }() // after a commit it does nothing
	if _, err := tx.ExecContext(ctx, "select set_config('settlemark.app_role', $1, true)", appRole); err != nil {
		return explain(err)
	}
	if _, err := tx.ExecContext(ctx, roles); err != nil {
		return fmt.Errorf("rights of login %s: %w", appRole, err)
	}
	return tx.Commit()
}

// NewestMigration is the number of the newest schema that this program knows.
func NewestMigration() int64 {
	files, _ := fs.Glob(migrations, "migrations/*.sql") // fails on a bad pattern only
	newest, _ := goose.NumericComponent(files[len(files)-1])
	return newest
}
