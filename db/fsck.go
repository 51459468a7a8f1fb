package db

import (
	"context"
	"time"

	"settlemark/internal/problem"
)

// Inspection reads the whole record as of one instant, for the check that says
// whether it is sound (internal/fsck). It trusts no function, view or trigger
// of the database: whoever holds all rights could have replaced them.
type Inspection struct {
	ctx context.Context
	q   querier
}

// Inspect runs read over one snapshot. A large record takes longer than a page
// may, so the deadlines of pages are not for it.
func (d *DB) Inspect(ctx context.Context, read func(i *Inspection) error) (err error) {
	defer problem.Wrap(&err, "Inspect")
	return d.unhurried(ctx, func(q querier) error { return read(&Inspection{ctx: ctx, q: q}) })
}

// InspectedRun is a run as its row says.
type InspectedRun struct {
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

const inspectRuns = `
select r.id::text as id, r.state, r.round, r.seq, r.head, r.opening, r.unit, r.opened_at, convert_to(coalesce(p.yaml, ''), 'UTF8') as procedure
from runs r left join procedures p on p.key = r.procedure and p.revision = r.revision order by r.number`

// Runs gives every run.
func (i *Inspection) Runs() ([]InspectedRun, error) {
	return list[InspectedRun](i.ctx, i.q, inspectRuns, args{})
}

// InspectedPost is one link of a run's chain. Sent covers the hashes of what
// was sent, in the order of the entries.
type InspectedPost struct {
	FirstSeq, LastSeq       int
	Digest, Previous, Chain []byte
	ReceivedAt              time.Time
	Sent                    []byte
}

const inspectPosts = `
select p.first_seq, p.last_seq, p.digest, p.previous, p.chain, p.received_at,
  (select sha256(coalesce(string_agg(e.sent_hash, ''::bytea order by e.seq), ''::bytea)) from entries e
    where e.run_id = p.run_id and e.post_seq = p.last_seq) as sent
from posts p where p.run_id = @run::uuid order by p.last_seq`

// Posts gives the posts of a run in order.
func (i *Inspection) Posts(run string) ([]InspectedPost, error) {
	return list[InspectedPost](i.ctx, i.q, inspectPosts, args{"run": run})
}

// InspectedEntry is an entry with its columns.
type InspectedEntry struct {
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

const inspectEntries = `
select e.seq, e.post_seq, e.id::text as id, e.kind, coalesce(e.logger_id, e.person_id) as author,
  c.person_id is not null as contributor, e.observed_at, e.received_at, e.body
from entries e left join contributors c on c.run_id = e.run_id and c.person_id = e.person_id
where e.run_id = @run::uuid order by e.seq`

// Entries gives the entries of a run in order.
func (i *Inspection) Entries(run string) ([]InspectedEntry, error) {
	return list[InspectedEntry](i.ctx, i.q, inspectEntries, args{"run": run})
}

// InspectedSignature is a signature under a run.
type InspectedSignature struct {
	Round       int
	Kind        string
	Person      string
	Contributor bool
	SignedAt    time.Time
	Head        []byte
	Assessment  []byte
}

const inspectSignatures = `
select s.round, s.kind, s.person_id as person, c.person_id is not null as contributor, s.signed_at, s.head, s.assessment
from signatures s left join contributors c on c.run_id = s.run_id and c.person_id = s.person_id
where s.run_id = @run::uuid order by s.round, s.kind desc`

// Signatures gives the signatures of a run, round by round.
func (i *Inspection) Signatures(run string) ([]InspectedSignature, error) {
	return list[InspectedSignature](i.ctx, i.q, inspectSignatures, args{"run": run})
}

// Misfits gives a line for each row that does not fit the others.
func (i *Inspection) Misfits() ([]string, error) {
	return column[string](i.ctx, i.q, misfits, args{})
}
