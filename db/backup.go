package db

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"settlemark/internal/problem"
)

// Snapshot is one instant of the whole database, held open for whoever dumps it.
type Snapshot struct {
	ID         string // for pg_dump
	At         time.Time
	Server     int    // version of the database server
	Schema     int64  // number of the newest migration
	Checkpoint []byte // newest signed checkpoint of the log, nil for none
	Rows       map[string]int64
}

const exportSnapshot = `
select pg_export_snapshot() as id, now() as at, current_setting('server_version_num')::int / 10000 as server,
  (select max(version_id) from schema_versions) as schema,
  (select signed from log_checkpoints order by epoch desc, size desc limit 1) as checkpoint`

// countRows counts the rows of every table, whatever tables there are.
const countRows = `
select c.relname::text as name,
  (xpath('/row/n/text()', query_to_xml(format('select count(*) as n from %I.%I', n.nspname, c.relname), false, true, '')))[1]::text::bigint as rows
from pg_class c join pg_namespace n on n.oid = c.relnamespace
where n.nspname = 'settlemark' and c.relkind = 'r' order by c.relname`

// Snapshot holds one instant open while do dumps it. It needs the login that
// owns the tables.
func (d *DB) Snapshot(ctx context.Context, do func(Snapshot) error) (err error) {
	defer problem.Wrap(&err, "Snapshot")
	return d.unhurried(ctx, func(q querier) error {
		type row struct {
			ID         string
			At         time.Time
			Server     int
			Schema     int64
			Checkpoint []byte
		}
		r, err := one[row](ctx, q, exportSnapshot, args{})
		if err != nil {
			return err
		}
		s := Snapshot{ID: r.ID, At: r.At, Server: r.Server, Schema: r.Schema, Checkpoint: r.Checkpoint}
		if s.Rows, err = rowCounts(ctx, q); err != nil {
			return err
		}
		return do(s)
	})
}

// RowCounts counts the rows of every table.
func (d *DB) RowCounts(ctx context.Context) (rows map[string]int64, err error) {
	defer problem.Wrap(&err, "RowCounts")
	err = d.unhurried(ctx, func(q querier) (err error) {
		rows, err = rowCounts(ctx, q)
		return err
	})
	return rows, err
}

func rowCounts(ctx context.Context, q querier) (map[string]int64, error) {
	type table struct {
		Name string
		Rows int64
	}
	all, err := list[table](ctx, q, countRows, args{})
	rows := map[string]int64{}
	for _, t := range all {
		rows[t.Name] = t.Rows
	}
	return rows, err
}

// unhurried reads one instant without the deadlines of pages. Where row
// security would hide rows it is an error: a count must not be of a part.
func (d *DB) unhurried(ctx context.Context, read func(q querier) error) error {
	return pgx.BeginTxFunc(ctx, d.pool, pgx.TxOptions{
		IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly,
	}, func(tx pgx.Tx) error {
		for _, s := range []string{
			"set local statement_timeout = 0", "set local idle_in_transaction_session_timeout = 0", "set local row_security = off",
			"set local timezone = 'UTC'", "set local bytea_output = 'hex'",
		} {
			if _, err := tx.Exec(ctx, s); err != nil {
				return explain(err)
			}
		}
		return read(tx)
	})
}

const holdsTables = `select exists (select 1 from pg_class c join pg_namespace n on n.oid = c.relnamespace
  where n.nspname <> 'information_schema' and n.nspname !~ '^pg_' and c.relkind in ('r', 'p', 'v', 'm', 'S'))`

// Empty says whether the database holds no tables of anybody, and which version
// its server has.
func (d *DB) Empty(ctx context.Context) (empty bool, server int, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Empty")
	holds, err := value[bool](ctx, d.pool, holdsTables, args{})
	if err != nil {
		return false, 0, err
	}
	server, err = value[int](ctx, d.pool, serverVersion, args{})
	return !holds, server, err
}

const serverVersion = `select current_setting('server_version_num')::int / 10000`

const everyFile = `select number from certificate_pdfs order by number`

// FileNumbers gives the number of every certificate that has its file.
func (d *DB) FileNumbers(ctx context.Context) (_ []string, err error) {
	defer problem.Wrap(&err, "FileNumbers")
	var all []string
	err = d.unhurried(ctx, func(q querier) (err error) {
		all, err = column[string](ctx, q, everyFile, args{})
		return err
	})
	return all, err
}

const oneFile = `select pdf from certificate_pdfs where number = @number`

// File gives a certificate's file, whoever's it is: for checks of the whole record.
func (d *DB) File(ctx context.Context, number string) (_ []byte, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "File(%s)", number)
	return value[[]byte](ctx, d.pool, oneFile, args{"number": number})
}
