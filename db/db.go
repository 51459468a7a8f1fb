// Package db holds every SQL statement. Reads hang on *DB and are scoped to
// what the person may read: a row of another site is NotFound. Writes hang on
// *Tx, and only internal/act may call InTx.
//
// The record itself is written through functions in the database (see
// migrations); the login that serves holds no right to change evidence. The
// package knows the nouns of the job, but must not know the rules nor HTTP.
package db

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"

	"settlemark/internal/commissioning"
)

// callDeadline bounds every call; a query through a network that swallows
// packets would hang for ever without one.
const callDeadline = 5 * time.Second

// DB reads the record and opens transactions for the acts.
type DB struct {
	pool *pools
	jobs *river.Client[pgx.Tx] // puts jobs in, works none
	log  *slog.Logger
}

// Open connects as the login that serves. It does not wait for the server;
// Ping does.
func Open(ctx context.Context, url string, log *slog.Logger) (*DB, error) {
	config, err := poolConfig(url)
	if err != nil {
		return nil, fmt.Errorf("database address: %w", err)
	}
	pool, err := openPools(ctx, config)
	if err != nil {
		return nil, fmt.Errorf("database: %w", err)
	}
	jobs, err := river.NewClient(riverpgxv5.New(nil), &river.Config{Schema: JobSchema, Logger: log})
	if err != nil {
		return nil, fmt.Errorf("job queue: %w", err)
	}
	return &DB{pool: pool, jobs: jobs, log: log}, nil
}

func poolConfig(url string) (*pgxpool.Config, error) {
	config, err := pgxpool.ParseConfig(url)
	if err != nil {
		return nil, err
	}
	settle(config.ConnConfig, "5s")
	config.AfterConnect = func(_ context.Context, conn *pgx.Conn) error {
		conn.TypeMap().RegisterType(&pgtype.Type{
			Name: "timestamptz", OID: pgtype.TimestamptzOID,
			Codec: &pgtype.TimestamptzCodec{ScanLocation: time.UTC},
		})
		return nil
	}
	return config, nil
}

// settle gives a connection our schema and its deadlines.
func settle(c *pgx.ConnConfig, statementTimeout string) {
	c.RuntimeParams["search_path"] = schema
	c.RuntimeParams["timezone"] = "UTC"
	c.RuntimeParams["application_name"] = "settlemark"
	c.RuntimeParams["statement_timeout"] = statementTimeout
	c.RuntimeParams["lock_timeout"] = "2s"
	c.RuntimeParams["idle_in_transaction_session_timeout"] = "10s"
	c.RuntimeParams["jit"] = "off" // compiling costs more than any of our queries
	if c.ConnectTimeout == 0 {
		c.ConnectTimeout = 2 * time.Second
	}
}

// Close ends every connection.
func (d *DB) Close() { d.pool.Close() }

// Ping says whether the database answers.
func (d *DB) Ping(ctx context.Context) error {
	ctx, cancel := deadline(ctx)
	defer cancel()
	return explain(d.pool.of(ctx).Ping(ctx))
}

func deadline(ctx context.Context) (context.Context, context.CancelFunc) {
	return context.WithTimeout(ctx, callDeadline)
}

// querier is the pools or a transaction.
type querier interface {
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
}

// args are named arguments; a name that the statement lacks is an error.
type args = pgx.StrictNamedArgs

// list reads rows into structs by column name.
func list[T any](ctx context.Context, q querier, sql string, a args) ([]T, error) {
	rows, err := q.Query(ctx, sql, a)
	if err != nil {
		return nil, explain(err)
	}
	all, err := pgx.CollectRows(rows, pgx.RowToStructByName[T])
	return all, explain(err)
}

// one reads exactly one row; none is NotFound.
func one[T any](ctx context.Context, q querier, sql string, a args) (T, error) {
	rows, err := q.Query(ctx, sql, a)
	if err != nil {
		var none T
		return none, explain(err)
	}
	v, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[T])
	return v, explain(err)
}

// column reads one column of every row.
func column[T any](ctx context.Context, q querier, sql string, a args) ([]T, error) {
	rows, err := q.Query(ctx, sql, a)
	if err != nil {
		return nil, explain(err)
	}
	all, err := pgx.CollectRows(rows, pgx.RowTo[T])
	return all, explain(err)
}

// value reads one column of exactly one row; none is NotFound.
func value[T any](ctx context.Context, q querier, sql string, a args) (T, error) {
	rows, err := q.Query(ctx, sql, a)
	if err != nil {
		var none T
		return none, explain(err)
	}
	v, err := pgx.CollectExactlyOneRow(rows, pgx.RowTo[T])
	return v, explain(err)
}

// snapshot reads several things as of one instant, so that what a page shows
// and the head that it carries belong together.
func (d *DB) snapshot(ctx context.Context, read func(q querier) error) error {
	return explain(pgx.BeginTxFunc(ctx, d.pool, pgx.TxOptions{
		IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly,
	}, func(tx pgx.Tx) error { return read(tx) }))
}

// evidence gives the sites whose runs and certificates the person may read.
func evidence(p commissioning.Person) (all bool, sites []int64) {
	sites = []int64{}
	for _, g := range p.Grants {
		switch g.Role {
		case commissioning.Quality:
			all = true
		case commissioning.Engineer, commissioning.Supervisor:
			all = all || g.Site == 0
			sites = append(sites, int64(g.Site))
		}
	}
	return all, sites
}

// registers gives the sites whose lines, benches and units the person may read:
// those of evidence, and all for administrators.
func registers(p commissioning.Person) (all bool, sites []int64) {
	all, sites = evidence(p)
	return all || p.Holds(commissioning.Administrator), sites
}
