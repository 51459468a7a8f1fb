package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const run = `
select id, number, unit, site, line, bench, procedure, revision, state, round, seq, head, opened_at, opened_by, pen, demo,
  submitted_at, released_at, returned_at, return_reason, abandoned_at, end_reason, certificate
from run_rows
where id = @run and (@all or site = any(@sites))`

// Run gives one run of a site that the person may read.
func (d *DB) Run(ctx context.Context, p commissioning.Person, id commissioning.RunID) (_ commissioning.Run, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Run(%s, %s)", p.ID, id)
	all, sites := evidence(p)
	return readRun(ctx, d.pool, id, all, sites)
}

func readRun(ctx context.Context, q querier, id commissioning.RunID, all bool, sites []int64) (commissioning.Run, error) {
	return one[commissioning.Run](ctx, q, run, args{"run": id, "all": all, "sites": sites})
}

const myRuns = `
select id, number, unit, site, line, bench, procedure, revision, state, round, seq, head, opened_at, opened_by, pen, demo,
  submitted_at, released_at, returned_at, return_reason, abandoned_at, end_reason, certificate
from run_rows r
where (@all or site = any(@sites)) and (pen = @person
  or exists (select 1 from contributors c where c.run_id::text = r.id and c.person_id = @person))
order by state <> 'open', state <> 'submitted', opened_at desc
limit 200`

// MyRuns gives the runs that the person opened, holds the pen of or recorded
// in: live ones first, newest first.
func (d *DB) MyRuns(ctx context.Context, p commissioning.Person) (_ []commissioning.Run, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "MyRuns(%s)", p.ID)
	all, sites := evidence(p)
	return list[commissioning.Run](ctx, d.pool, myRuns, args{"person": p.ID, "all": all, "sites": sites})
}

const unitRuns = `
select id, number, unit, site, line, bench, procedure, revision, state, round, seq, head, opened_at, opened_by, pen, demo,
  submitted_at, released_at, returned_at, return_reason, abandoned_at, end_reason, certificate
from run_rows
where unit = @unit and (@all or site = any(@sites))
order by opened_at desc
limit 200`

// UnitRuns gives the runs of a unit, newest first.
func (d *DB) UnitRuns(ctx context.Context, p commissioning.Person, tag string) (_ []commissioning.Run, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "UnitRuns(%s, %s)", p.ID, tag)
	all, sites := evidence(p)
	return list[commissioning.Run](ctx, d.pool, unitRuns, args{"unit": tag, "all": all, "sites": sites})
}

const liveUnits = `
select unit from run_rows where state in ('open', 'submitted') and (@all or site = any(@sites))`

// LiveUnits gives the tags of the units that have a live run.
func (d *DB) LiveUnits(ctx context.Context, p commissioning.Person) (_ []string, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "LiveUnits(%s)", p.ID)
	all, sites := evidence(p)
	return column[string](ctx, d.pool, liveUnits, args{"all": all, "sites": sites})
}

const openRun = `
select open_run(@run, @person, @unit, @procedure, @revision, @opening, @now)`

// OpenRun opens a run; body is the canonical JSON of the opening. Opening it
// again under the same id does nothing; when the unit is not free it is a
// Conflict.
func (t *Tx) OpenRun(ctx context.Context, o commissioning.Opening, body []byte) error {
	return t.exec(ctx, openRun, args{
		"run": o.Run, "person": o.OpenedBy, "unit": o.Unit.Tag, "procedure": o.Procedure.Key,
		"revision": o.Procedure.Revision, "opening": body, "now": o.OpenedAt,
	})
}

// Run is the run as of this transaction, whoever asks.
func (t *Tx) Run(ctx context.Context, id commissioning.RunID) (commissioning.Run, error) {
	return readRun(ctx, t.tx, id, true, []int64{})
}

const lockRun = `select from lock_run(@run)`

// LockRun makes every other writer of the run wait until this transaction ends.
func (t *Tx) LockRun(ctx context.Context, id commissioning.RunID) (commissioning.Run, error) {
	if err := t.exec(ctx, lockRun, args{"run": id}); err != nil {
		return commissioning.Run{}, err
	}
	return t.Run(ctx, id)
}

const takePen = `select take_pen(@run, @person, @note, @now)`

// TakePen makes the person the one who records in the run.
func (t *Tx) TakePen(ctx context.Context, id commissioning.RunID, by commissioning.PersonID, note string, now time.Time) error {
	return t.exec(ctx, takePen, args{"run": id, "person": by, "note": note, "now": now})
}

const abandonRun = `select abandon_run(@run, @person, @reason, @now)`

// AbandonRun ends an open run without a release.
func (t *Tx) AbandonRun(ctx context.Context, id commissioning.RunID, by commissioning.PersonID, reason string, now time.Time) error {
	return t.exec(ctx, abandonRun, args{"run": id, "person": by, "reason": reason, "now": now})
}
