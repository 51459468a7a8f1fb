package db

import (
	"context"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const addNotice = `
insert into notices (run_id, key, event, at, text) values (@run, @key, @event, @at, @text)
on conflict (run_id, key) do nothing returning id`

// AddNotice keeps a moment of a run as told and gives its id; new is false, and
// the id 0, when somebody was told before.
func (t *Tx) AddNotice(ctx context.Context, run commissioning.RunID, m commissioning.Moment) (id int64, fresh bool, err error) {
	defer problem.Wrap(&err, "AddNotice(%s, %s)", run, m.Key)
	ids, err := column[int64](ctx, t.tx, addNotice, args{"run": run, "key": m.Key, "event": m.Event, "at": m.At, "text": m.Text})
	if err != nil || len(ids) == 0 {
		return 0, false, err
	}
	return ids[0], true, nil
}

const newestNotice = `
select n.id, n.run_id::text as run, r.unit, r.site_id as site, n.key, n.event, n.at, n.text
from notices n join runs r on r.id = n.run_id
where (@run::text is null or n.run_id = @run::text::uuid) and (@all or r.site_id = any(@sites)) and n.event = any(@events)
order by n.id desc limit 1`

// RunNotice gives the newest notice of a run; NotFound when there is none.
func (d *DB) RunNotice(ctx context.Context, run commissioning.RunID) (_ commissioning.Notice, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "RunNotice(%s)", run)
	return one[commissioning.Notice](ctx, d.pool, newestNotice, args{"run": run, "all": true, "sites": []int64{}, "events": commissioning.Events})
}

// BoardNotice gives the newest notice of the person's sites that is for whoever
// watches a board; NotFound when there is none.
func (d *DB) BoardNotice(ctx context.Context, p commissioning.Person) (_ commissioning.Notice, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "BoardNotice(%s)", p.ID)
	all, sites := evidence(p)
	return one[commissioning.Notice](ctx, d.pool, newestNotice, args{
		"run": nil, "all": all, "sites": sites, "events": []commissioning.Event{commissioning.EventStopped, commissioning.EventWaiting},
	})
}

const notifyRun = `select pg_notify('settlemark_runs', @run)`

// Announce lets every process look at a run again, when this is committed.
func (t *Tx) Announce(ctx context.Context, run commissioning.RunID) error {
	return t.exec(ctx, notifyRun, args{"run": run})
}
