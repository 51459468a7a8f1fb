package dbtest

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
)

// Check reads the whole record behind the address and gives what is wrong with
// it, one line each; none when it is sound:
//
//   - every run's chain, computed again from the stored bytes; no seq missing;
//   - every entry is canonical, salted, and says what its columns say;
//   - every logbook can be read and judged;
//   - signatures stand on heads of their run, two different people, and nothing
//     but dispositions between the two;
//   - states, rounds, releases, acts and certificates fit one another.
func Check(ctx context.Context, address string) ([]string, error) {
	conn, err := connect(ctx, address)
	if err != nil {
		return nil, err
	}
	defer conn.Close(ctx) //nolint:errcheck // nothing is pending
	conn.TypeMap().RegisterType(&pgtype.Type{
		Name: "timestamptz", OID: pgtype.TimestamptzOID, Codec: &pgtype.TimestamptzCodec{ScanLocation: time.UTC},
	})
	c := &check{ctx: ctx, conn: conn}
	runs := rows[runRow](c, selectRuns)
	posts := rows[postRow](c, selectPosts)
	entries := rows[entryRow](c, selectEntries)
	signatures := rows[signatureRow](c, selectSignatures)
	for _, r := range runs {
		c.run = r
		own := of(entries, r.ID)
		heads := c.chain(of(posts, r.ID), own)
		c.entries(own)
		c.judged(own, of(signatures, r.ID))
		c.signed(heads, own, of(signatures, r.ID))
	}
	for _, fault := range rows[struct{ Fault string }](c, misfits) {
		c.faults = append(c.faults, fault.Fault)
	}
	return c.faults, c.err
}

type check struct {
	ctx    context.Context
	conn   *pgx.Conn
	run    runRow
	faults []string
	err    error
}

func (c *check) fault(format string, args ...any) {
	c.faults = append(c.faults, fmt.Sprintf("run %s: ", c.run.ID)+fmt.Sprintf(format, args...))
}

// rows reads a statement; after the first error it gives nothing.
func rows[T any](c *check, sql string) []T {
	if c.err != nil {
		return nil
	}
	found, err := c.conn.Query(c.ctx, sql)
	if err != nil {
		c.err = err
		return nil
	}
	all, err := pgx.CollectRows(found, pgx.RowToStructByName[T])
	c.err = err
	return all
}

func of[T interface{ run() string }](all []T, run string) []T {
	var own []T
	for _, row := range all {
		if row.run() == run {
			own = append(own, row)
		}
	}
	return own
}

type runRow struct {
	ID        string
	State     string
	Round     int
	Seq       int
	Head      []byte
	Opening   []byte
	Unit      string
	OpenedAt  time.Time
	Procedure []byte
}

const selectRuns = `
select r.id::text as id, r.state, r.round, r.seq, r.head, r.opening, r.unit, r.opened_at, convert_to(p.yaml, 'UTF8') as procedure
from runs r join procedures p on p.key = r.procedure and p.revision = r.revision order by r.number`

type postRow struct {
	Run               string
	FirstSeq, LastSeq int
	Previous, Chain   []byte
}

func (r postRow) run() string { return r.Run }

const selectPosts = `select run_id::text as run, first_seq, last_seq, previous, chain from posts order by run_id, last_seq`

type entryRow struct {
	Run         string
	Seq         int
	PostSeq     int
	ID          string
	Kind        string
	Author      string
	Contributor bool
	ObservedAt  time.Time
	ReceivedAt  time.Time
	Body        []byte
}

func (r entryRow) run() string { return r.Run }

const selectEntries = `
select e.run_id::text as run, e.seq, e.post_seq, e.id::text as id, e.kind, coalesce(e.logger_id, e.person_id) as author,
  c.person_id is not null as contributor, e.observed_at, e.received_at, e.body
from entries e left join contributors c on c.run_id = e.run_id and c.person_id = e.person_id
order by e.run_id, e.seq`

type signatureRow struct {
	Run         string
	Round       int
	Kind        string
	Person      string
	Contributor bool
	SignedAt    time.Time
	Head        []byte
	Assessment  []byte
}

func (r signatureRow) run() string { return r.Run }

const selectSignatures = `
select s.run_id::text as run, s.round, s.kind, s.person_id as person, c.person_id is not null as contributor,
  s.signed_at, s.head, s.assessment
from signatures s left join contributors c on c.run_id = s.run_id and c.person_id = s.person_id
order by s.run_id, s.round, s.kind desc`
