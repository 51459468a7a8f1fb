package db_test

import (
	"log/slog"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivermigrate"

	"settlemark/db"
	"settlemark/db/dbtest"
)

// The queue's library says itself whether its tables are what it expects.
func TestQueueSchema(t *testing.T) {
	d := dbtest.New(t)
	pool, err := pgxpool.New(t.Context(), d.OwnerURL)
	must(t, err)
	defer pool.Close()
	migrator, err := rivermigrate.New(riverpgxv5.New(pool), &rivermigrate.Config{Schema: db.JobSchema, Logger: slog.New(slog.DiscardHandler)})
	must(t, err)
	found, err := migrator.Validate(t.Context(), nil)
	must(t, err)
	if !found.OK {
		t.Errorf("it misses %v", found.Messages)
	}
	t.Run("and they are what its own migrations make", func(t *testing.T) {
		dbtest.Exec(t, d.OwnerURL, "create schema theirs")
		theirs, err := rivermigrate.New(riverpgxv5.New(pool), &rivermigrate.Config{Schema: "theirs", Logger: slog.New(slog.DiscardHandler)})
		must(t, err)
		_, err = theirs.Migrate(t.Context(), rivermigrate.DirectionUp, nil)
		must(t, err)
		for _, what := range []string{queueColumns, queueConstraints, queueIndexes} {
			if ours, wanted := listed(t, pool, what, db.JobSchema), listed(t, pool, what, "theirs"); ours != wanted {
				t.Errorf("ours:\n%s\ntheirs:\n%s", ours, wanted)
			}
		}
	})
}

const queueColumns = `select string_agg(format('%s.%s %s %s %s', table_name, column_name, data_type, is_nullable, replace(column_default, $1 || '.', '')), E'\n'
  order by table_name, column_name) from information_schema.columns where table_schema = $1`

const queueConstraints = `select string_agg(format('%s %s', conrelid::regclass::text, pg_get_constraintdef(oid)), E'\n' order by replace(conrelid::regclass::text, $1, ''), pg_get_constraintdef(oid))
  from pg_constraint where connamespace = $1::text::regnamespace`

const queueIndexes = `select string_agg(indexdef, E'\n' order by replace(indexdef, $1, '')) from pg_indexes where schemaname = $1`

func listed(t *testing.T, pool *pgxpool.Pool, statement, schema string) string {
	t.Helper()
	var text string
	must(t, pool.QueryRow(t.Context(), statement, schema).Scan(&text))
	text = strings.ReplaceAll(text, "_pkey1 ", "_pkey ") // a table that theirs renames on the way
	return strings.ReplaceAll(text, schema+".", "")
}
