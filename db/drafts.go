package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const drafts = `
select d.id, d.key, coalesce(d.base, 0) as base, d.text, d.version, d.started_at, c.name as changed_by, d.changed_at,
  array(select p.name from procedure_draft_authors a join persons p on p.id = a.person_id where a.draft_id = d.id order by p.name) as authors,
  array(select p.id from procedure_draft_authors a join persons p on p.id = a.person_id where a.draft_id = d.id order by p.name) as author_ids
from procedure_drafts d join persons c on c.id = d.changed_by
where @id::bigint is null or d.id = @id
order by d.key`

type draftRow struct {
	ID        int64
	Key       string
	Base      int
	Text      string
	Version   int
	StartedAt time.Time
	ChangedBy string
	ChangedAt time.Time
	Authors   []string
	AuthorIDs []commissioning.PersonID `db:"author_ids"`
}

// Drafts gives every draft by key.
func (d *DB) Drafts(ctx context.Context) (all []ProcedureDraft, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Drafts")
	rows, err := list[draftRow](ctx, d.pool, drafts, args{"id": nil})
	for _, row := range rows {
		all = append(all, ProcedureDraft(row))
	}
	return all, err
}

// Draft gives one draft; NotFound once it was submitted or thrown away.
func (d *DB) Draft(ctx context.Context, id int64) (_ ProcedureDraft, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Draft(%d)", id)
	return readDraft(ctx, d.pool, id)
}

// Draft is the draft as of this transaction.
func (t *Tx) Draft(ctx context.Context, id int64) (ProcedureDraft, error) {
	return readDraft(ctx, t.tx, id)
}

func readDraft(ctx context.Context, q querier, id int64) (ProcedureDraft, error) {
	row, err := one[draftRow](ctx, q, drafts, args{"id": id})
	if problem.KindOf(err) == problem.NotFound {
		err = problem.New(problem.NotFound, "There is no such draft: it was submitted or thrown away. Look under Procedures what became of it.")
	}
	return ProcedureDraft(row), err
}

const nextRevision = `select coalesce(max(revision), 0) + 1 from procedures where key = @key`

// NextRevision is the number that the next revision of a procedure gets.
func (t *Tx) NextRevision(ctx context.Context, key string) (int, error) {
	return value[int](ctx, t.tx, nextRevision, args{"key": key})
}

const startDraft = `select start_draft(@key, @base::integer, @text, @person, @now)`

// StartDraft gives the draft of a procedure, a new one where there is none yet.
// base is the revision that it begins as, 0 for a new procedure.
func (t *Tx) StartDraft(ctx context.Context, key string, base int, text string, by commissioning.PersonID, now time.Time) (int64, error) {
	a := args{"key": key, "base": nil, "text": text, "person": by, "now": now}
	if base > 0 {
		a["base"] = base
	}
	return value[int64](ctx, t.tx, startDraft, a)
}

const saveDraft = `select save_draft(@draft, @version, @text, @person, @now)`

// SaveDraft stores the text over that version and gives the new one; Conflict
// when somebody saved in between.
func (t *Tx) SaveDraft(ctx context.Context, id int64, version int, text string, by commissioning.PersonID, now time.Time) (int, error) {
	return value[int](ctx, t.tx, saveDraft, args{"draft": id, "version": version, "text": text, "person": by, "now": now})
}

const discardDraft = `select discard_draft(@draft, @version, @person, @now)`

// DiscardDraft throws a draft away: who worked on it, or quality.
func (t *Tx) DiscardDraft(ctx context.Context, id int64, version int, by commissioning.PersonID, now time.Time) error {
	return t.exec(ctx, discardDraft, args{"draft": id, "version": version, "person": by, "now": now})
}

const submitDraft = `select submit_draft(@draft, @version, @person, @key, @revision, @reason, @now)`

// SubmitDraft makes the draft a revision that waits for approval.
func (t *Tx) SubmitDraft(ctx context.Context, id int64, version int, by commissioning.PersonID, key string, revision int, reason string, now time.Time) error {
	return t.exec(ctx, submitDraft, args{
		"draft": id, "version": version, "person": by, "key": key, "revision": revision, "reason": reason, "now": now,
	})
}
