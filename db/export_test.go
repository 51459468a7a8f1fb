package db

import (
	"context"
	"fmt"
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
