package db

import (
	"context"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// Whoever works on the run is told of it, and those supervisors of its site who
// could countersign it: a part in it, here as there, is that of the human being.
const addNotice = `
insert into notices (run_id, key, event, at, text, people)
select r.id, @key, @event, @at, @text, array(
  select p.id from persons p
    cross join lateral (select exists (select 1 from contributors c where c.run_id = r.id and human(c.person_id) = human(p.id)) as took_part) as t
  where @event in ('stopped', 'check', 'ready') and t.took_part and may(p.id, 'engineer', r.site_id)
    or @event in ('stopped', 'waiting') and not t.took_part and may(p.id, 'supervisor', r.site_id)
  order by p.id)
from runs r where r.id = @run::text::uuid
on conflict (run_id, key) do nothing returning id`

// AddNotice keeps a moment of a run, and whom it concerns, as told and gives its
// id; new is false, and the id 0, when somebody was told before.
func (t *Tx) AddNotice(ctx context.Context, run commissioning.RunID, m commissioning.Moment) (id int64, fresh bool, err error) {
	defer problem.Wrap(&err, "AddNotice(%s, %s)", run, m.Key)
	ids, err := column[int64](ctx, t.tx, addNotice, args{"run": run, "key": m.Key, "event": m.Event, "at": m.At, "text": m.Text})
	if err != nil || len(ids) == 0 {
		return 0, false, err
	}
	return ids[0], true, nil
}

// Several things may happen at once, of which each concerns others: a run has
// few of them, a power dip stops every unit of a hall.
const (
	newestOfRun  = 5
	newestOfHall = 30
)

const newestNotices = `
select n.id, n.run_id::text as run, r.unit, r.site_id as site, n.key, n.event, n.at, n.text, n.people, n.told_at
from notices n join runs r on r.id = n.run_id
where (@run::text is null or n.run_id = @run::text::uuid) and (@all or r.site_id = any(@sites))
order by n.id desc limit @most`

// RunNotices gives the newest notices of a run, the newest first.
func (d *DB) RunNotices(ctx context.Context, run commissioning.RunID) (_ []commissioning.Notice, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "RunNotices(%s)", run)
	return list[commissioning.Notice](ctx, d.pool, newestNotices, args{"run": run, "all": true, "sites": []int64{}, "most": newestOfRun})
}

// BoardNotices gives the newest notices of the person's sites, the newest first.
func (d *DB) BoardNotices(ctx context.Context, p commissioning.Person) (_ []commissioning.Notice, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "BoardNotices(%s)", p.ID)
	all, sites := evidence(p)
	return list[commissioning.Notice](ctx, d.pool, newestNotices, args{"run": nil, "all": all, "sites": sites, "most": newestOfHall})
}

const notifyRun = `select pg_notify('settlemark_runs', @run)`

// Announce lets every process look at a run again, when this is committed.
func (t *Tx) Announce(ctx context.Context, run commissioning.RunID) error {
	return t.exec(ctx, notifyRun, args{"run": run})
}
