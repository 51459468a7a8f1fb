package db

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/riverqueue/river"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Tx is a transaction that writes. Every method that writes to a run locks the
// run's row first.
type Tx struct {
	tx   pgx.Tx
	jobs *river.Client[pgx.Tx] // puts jobs into the transaction
}

// tries bounds how often a transaction is run again.
const tries = 8

// InTx runs fn in one transaction. Only internal/act calls it.
//
// fn may run more than once: after a serialization failure or a deadlock
// (nothing was stored), when the connection broke (nothing was stored), and
// when a commit ended in an error, whose outcome is unknown. So fn must begin
// by looking for its own earlier work by its key (entry id, run id, nonce) and
// answer from it. pgconn.SafeToRetry plays no part: it says true for commits
// that were stored.
func (d *DB) InTx(ctx context.Context, fn func(tx *Tx) error) error {
	var unknown bool
	for try := 1; ; try++ {
		err := d.once(ctx, fn)
		var commit *commitError
		switch {
		case err == nil:
			return nil
		case errors.As(err, &commit):
			d.log.WarnContext(ctx, "commit with unknown outcome", "cause", err)
			// It may be stored although the caller has gone away: find out.
			ctx, unknown = context.WithoutCancel(ctx), true
		case again(err), unknown && problem.KindOf(err) == problem.Busy:
		default:
			return err
		}
		if try == tries {
			return &problem.Error{Kind: problem.Busy, Cause: err, Sentence: unsettled(unknown)}
		}
		select {
		case <-ctx.Done():
			return explain(ctx.Err())
		case <-time.After(time.Duration(rand.Int64N(int64(10*time.Millisecond) << try))): //nolint:gosec // jitter, no secret
		}
	}
}

func unsettled(unknown bool) words.Text {
	if unknown {
		return words.Say("The database broke off, so it is not known whether this was stored. Send it again: nothing is stored twice.")
	}
	return busy.Sentence
}

// commitError is an error out of Commit: stored or not, nobody knows.
type commitError struct{ cause error }

func (e *commitError) Error() string { return "commit: " + e.cause.Error() }
func (e *commitError) Unwrap() error { return e.cause }

// brokenError says that the connection was lost before Commit: nothing is stored.
type brokenError struct{ cause error }

func (e *brokenError) Error() string { return "connection lost: " + e.cause.Error() }
func (e *brokenError) Unwrap() error { return e.cause }

func (d *DB) once(ctx context.Context, fn func(tx *Tx) error) error {
	ctx, cancel := deadline(ctx)
	defer cancel()
	conn, err := d.pool.of(ctx).Acquire(ctx)
	if err != nil {
		return explain(err)
	}
	defer conn.Release()
	tx, err := conn.Begin(ctx)
	if err == nil {
		err = fn(&Tx{tx: tx, jobs: d.jobs})
	}
	if err != nil {
		if conn.Conn().IsClosed() && ctx.Err() == nil {
			return &brokenError{err}
		}
		if tx != nil {
			rollback(ctx, tx)
		}
		return explain(err)
	}
	return committed(tx.Commit(ctx))
}

// rollback gives the connection back clean, also when the caller has gone away.
func rollback(ctx context.Context, tx pgx.Tx) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
	defer cancel()
	_ = tx.Rollback(ctx) // on an error the pool drops the connection
}

// committed tells the outcomes of Commit apart.
func committed(err error) error {
	var pg *pgconn.PgError
	switch {
	case err == nil:
		return nil
	case errors.Is(err, pgx.ErrTxCommitRollback):
		return fmt.Errorf("commit: %w", err)
	case errors.As(err, &pg) && (pg.Code[:2] == "40" || pg.Code[:2] == "23"):
		return explain(err)
	}
	return &commitError{err}
}

// again says whether nothing was stored and the same work may succeed now.
func again(err error) bool {
	var broken *brokenError
	var connect *pgconn.ConnectError
	var pg *pgconn.PgError
	switch {
	case errors.As(err, &broken), errors.As(err, &connect):
		return true
	case errors.As(err, &pg):
		return pg.Code == "40001" || pg.Code == "40P01" || pg.Code == "57P01" || pg.Code == "57P02" || pg.Code == "57P03"
	}
	return false
}

// exec runs a statement that gives no rows.
func (t *Tx) exec(ctx context.Context, sql string, a args) error {
	_, err := t.tx.Exec(ctx, sql, a)
	return explain(err)
}
