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
  coalesce(w.name, '') as author_name, coalesce(a.name, '') as approved_by, a.approved_at, p.demo
from procedures p
left join persons w on w.id = p.author_id
left join procedure_approvals a on a.key = p.key and a.revision = p.revision
where @key::text is null or (p.key = @key and p.revision = @revision)
order by p.key, p.revision desc`

type procedureRow struct {
	Key        string
	Revision   int
	YAML       string `db:"yaml"`
	SHA256     string `db:"sha256"`
	Author     commissioning.PersonID
	AuthorName string
	ApprovedBy string
	ApprovedAt *time.Time
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
		AuthorName: r.AuthorName, ApprovedBy: r.ApprovedBy, ApprovedAt: r.ApprovedAt, Demo: r.Demo,
	}, nil
}

// Procedures gives every revision, the newest first per key.
func (d *DB) Procedures(ctx context.Context) (_ []ProcedureRevision, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Procedures")
	rows, err := list[procedureRow](ctx, d.pool, procedures, args{"key": nil, "revision": nil})
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
