package db

import (
	"context"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"

	"settlemark/internal/commissioning"
)

// Raise fails with a SQLSTATE as the server would.
func (t *Tx) Raise(ctx context.Context, state string) error {
	_, err := t.tx.Exec(ctx, fmt.Sprintf(`do $$ begin raise exception 'on purpose' using errcode = '%s'; end $$`, state))
	return err
}

// Sleep keeps a statement going.
func (t *Tx) Sleep(ctx context.Context, seconds int) error {
	_, err := t.tx.Exec(ctx, fmt.Sprintf(`select pg_sleep(%d)`, seconds))
	return err
}

// TrailPlan gives Postgres's plan for a page of the trail.
func (d *DB) TrailPlan(ctx context.Context, p commissioning.Person, f TrailFilter) (string, error) {
	a, err := d.trailArgs(ctx, p, f)
	if err != nil {
		return "", err
	}
	rows, err := d.pool.Query(ctx, "explain (costs off) "+trail, pgx.QueryExecModeCacheDescribe, a)
	if err != nil {
		return "", err
	}
	lines, err := pgx.CollectRows(rows, pgx.RowTo[string])
	return strings.Join(lines, "\n"), err
}
