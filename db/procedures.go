package db

import (
	"context"
	"fmt"
	"sync"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const procedures = `
select p.key, p.revision, p.yaml, encode(p.digest, 'hex') as sha256, coalesce(p.author_id, '') as author,
  coalesce(w.name, '') as author_name, p.reason, coalesce(p.base, 0) as base, p.added_at, p.demo,
  array(select name from procedure_authors b where b.key = p.key and b.revision = p.revision order by name) as authors,
  array(select person_id from procedure_authors b where b.key = p.key and b.revision = p.revision order by name) as author_ids,
  coalesce(a.name, '') as approved_by, a.approved_at,
  coalesce(j.name, '') as rejected_by, j.rejected_at, coalesce(j.reason, '') as rejection,
  coalesce(t.name, '') as retired_by, t.retired_at, coalesce(t.reason, '') as retirement
from procedures p
left join persons w on w.id = p.author_id
left join procedure_approvals a on a.key = p.key and a.revision = p.revision
left join procedure_rejections j on j.key = p.key and j.revision = p.revision
left join lateral (select name, retired_at, reason from procedure_retirements r
  where r.key = p.key and r.up_to >= p.revision order by up_to limit 1) t on true
where (@key::text is null or p.key = @key) and (@revision::integer is null or p.revision = @revision)
order by p.key, p.revision desc`

type procedureRow struct {
	Key        string
	Revision   int
	YAML       string `db:"yaml"`
	SHA256     string `db:"sha256"`
	Author     commissioning.PersonID
	AuthorName string
	Authors    []string
	AuthorIDs  []commissioning.PersonID `db:"author_ids"`
	Reason     string
	Base       int
	AddedAt    time.Time
	ApprovedBy string
	ApprovedAt *time.Time
	RejectedBy string
	RejectedAt *time.Time
	Rejection  string
	RetiredBy  string
	RetiredAt  *time.Time
	Retirement string
	Demo       bool
}

// parsed keeps what each YAML says: a revision never changes, and every look
// at a run needs its procedure.
var parsed sync.Map // sha256 → commissioning.Procedure

func (r procedureRow) revision() (ProcedureRevision, error) {
	p, known := parsed.Load(r.SHA256)
	if !known {
		read, err := commissioning.ParseProcedure([]byte(r.YAML))
		if err != nil {
			return ProcedureRevision{}, fmt.Errorf("stored procedure %s revision %d: %w", r.Key, r.Revision, err)
		}
		p = read
		parsed.Store(r.SHA256, p)
	}
	return ProcedureRevision{
		Procedure: p.(commissioning.Procedure), YAML: r.YAML, SHA256: r.SHA256, Author: r.Author,
		AuthorName: r.AuthorName, Authors: r.Authors, AuthorIDs: r.AuthorIDs, Reason: r.Reason, Base: r.Base, AddedAt: r.AddedAt,
		ApprovedBy: r.ApprovedBy, ApprovedAt: r.ApprovedAt,
		Rejected: Decision{By: r.RejectedBy, At: r.RejectedAt, Reason: r.Rejection},
		Retired:  Decision{By: r.RetiredBy, At: r.RetiredAt, Reason: r.Retirement},
		Demo:     r.Demo,
	}, nil
}

// Procedures gives every revision, the newest first per key.
func (d *DB) Procedures(ctx context.Context) (_ []ProcedureRevision, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Procedures")
	return revisions(ctx, d.pool, nil)
}

// Revisions gives every revision of one procedure, the newest first; none is
// NotFound.
func (d *DB) Revisions(ctx context.Context, key string) (_ []ProcedureRevision, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Revisions(%s)", key)
	all, err := revisions(ctx, d.pool, &key)
	if err == nil && len(all) == 0 {
		err = problem.New(problem.NotFound, "There is no such procedure. Choose one from the list of procedures.")
	}
	return all, err
}

func revisions(ctx context.Context, q querier, key *string) ([]ProcedureRevision, error) {
	rows, err := list[procedureRow](ctx, q, procedures, args{"key": key, "revision": nil})
	if err != nil {
		return nil, err
	}
	var all []ProcedureRevision
	for _, row := range rows {
		p, err := row.revision()
		if err != nil {
			return nil, err
		}
		all = append(all, p)
	}
	return all, nil
}

// Procedure gives one revision.
func (d *DB) Procedure(ctx context.Context, key string, revision int) (_ ProcedureRevision, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Procedure(%s, %d)", key, revision)
	return readProcedure(ctx, d.pool, key, revision)
}

// Procedure is the revision as of this transaction.
func (t *Tx) Procedure(ctx context.Context, key string, revision int) (ProcedureRevision, error) {
	return readProcedure(ctx, t.tx, key, revision)
}

func readProcedure(ctx context.Context, q querier, key string, revision int) (ProcedureRevision, error) {
	row, err := one[procedureRow](ctx, q, procedures, args{"key": key, "revision": revision})
	if err != nil {
		return ProcedureRevision{}, err
	}
	return row.revision()
}

const addProcedure = `select add_procedure(@key, @revision, @yaml, @author, @demo, @now)`

// AddProcedure stores a revision; the same one again does nothing, another
// text under the same number is a Conflict. author is "" for the program.
func (t *Tx) AddProcedure(ctx context.Context, p commissioning.Procedure, yaml []byte, author commissioning.PersonID, demo bool, now time.Time) error {
	return t.exec(ctx, addProcedure, args{
		"key": p.Key, "revision": p.Revision, "yaml": string(yaml), "author": nilIfEmpty(author), "demo": demo, "now": now,
	})
}

const approveProcedure = `select approve_procedure(@key, @revision, @person, @method, @now)`

// ApproveProcedure approves a revision for use: quality, and not its author.
func (t *Tx) ApproveProcedure(ctx context.Context, key string, revision int, by commissioning.PersonID, method string, now time.Time) error {
	return t.exec(ctx, approveProcedure, args{"key": key, "revision": revision, "person": by, "method": method, "now": now})
}

const rejectProcedure = `select reject_procedure(@key, @revision, @person, @reason, @now)`

// RejectProcedure refuses a revision that waits for approval: quality only.
func (t *Tx) RejectProcedure(ctx context.Context, key string, revision int, by commissioning.PersonID, reason string, now time.Time) error {
	return t.exec(ctx, rejectProcedure, args{"key": key, "revision": revision, "person": by, "reason": reason, "now": now})
}

const retireProcedure = `select retire_procedure(@key, @person, @reason, @now)`

// RetireProcedure keeps runs from being opened with any revision that there is:
// quality only.
func (t *Tx) RetireProcedure(ctx context.Context, key string, by commissioning.PersonID, reason string, now time.Time) error {
	return t.exec(ctx, retireProcedure, args{"key": key, "person": by, "reason": reason, "now": now})
}

const newerRevision = `
select coalesce(max(a.revision), 0) from procedure_approvals a
where a.key = @key and a.revision > @revision
  and not exists (select 1 from procedure_retirements t where t.key = a.key and t.up_to >= a.revision)`

// NewerRevision gives the newest approved revision above the given one, 0 when
// there is none.
func (d *DB) NewerRevision(ctx context.Context, key string, revision int) (_ int, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "NewerRevision(%s, %d)", key, revision)
	return value[int](ctx, d.pool, newerRevision, args{"key": key, "revision": revision})
}
