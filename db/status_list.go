package db

import (
	"context"
	"time"

	"settlemark/internal/problem"
)

// StatusList is the newest signed list of certificates that no longer stand.
type StatusList struct {
	Number     int64
	Epoch      int
	IssuedAt   time.Time
	NextUpdate time.Time
	Changes    int64 // rows of certificate_status that it knows
	Signed     []byte
}

const statusList = `select number, epoch, issued_at, next_update, changes, signed from status_list`

// StatusList gives the newest list. It is Busy until the first one is made.
func (d *DB) StatusList(ctx context.Context) (_ StatusList, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "StatusList")
	l, err := one[StatusList](ctx, d.pool, statusList, args{})
	if problem.KindOf(err) == problem.NotFound {
		return l, problem.New(problem.Busy, "The first status list is still being made. Try again in a moment.")
	}
	return l, err
}

// StatusList is the newest list as of this transaction, the zero value for none.
func (t *Tx) StatusList(ctx context.Context) (StatusList, error) {
	return zeroWhenNone(one[StatusList](ctx, t.tx, statusList, args{}))
}

const statusChanges = `select count(*) from certificate_status`

const statusListDue = `
select coalesce((select l.changes <> (select count(*) from certificate_status) or l.issued_at <= @before
    or l.epoch <> (select max(epoch) from log_epochs) from status_list l), true)
  and exists (select 1 from log_heads where size > 0)`

// StatusListDue says whether a list should be made: something changed since the
// newest, or that is of before the instant.
func (d *DB) StatusListDue(ctx context.Context, before time.Time) (_ bool, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "StatusListDue")
	return value[bool](ctx, d.pool, statusListDue, args{"before": before})
}

// EndedCertificate is one line of the list.
type EndedCertificate struct {
	Number string
	Status string
	At     time.Time
	Reason string // its code
}

const endedCertificates = `
select c.number, coalesce(w.status, s.status) as status, coalesce(w.at, s.at) as at,
  case when e.id is not null then 'event-' || e.kind when w.recall_id is not null then 'recall'
    when w.number is not null then 'quality' else 'newer-release' end as reason
from releases c
left join certificate_status s on s.number = c.number and s.status = 'superseded'
left join certificate_status w on w.number = c.number and w.status = 'withdrawn'
left join unit_events e on e.id = w.event_id
where s.number is not null or w.number is not null
order by length(c.number), c.number`

// EndedCertificates gives every certificate that is superseded or withdrawn,
// and how many rows of certificate_status say so. The caller holds the head of
// the log: what is in the log by then is among them.
func (t *Tx) EndedCertificates(ctx context.Context) (ended []EndedCertificate, changes int64, err error) {
	// Counted first: what comes in between makes another list due.
	if changes, err = value[int64](ctx, t.tx, statusChanges, args{}); err != nil {
		return nil, 0, err
	}
	ended, err = list[EndedCertificate](ctx, t.tx, endedCertificates, args{})
	return ended, changes, err
}

const storeStatusList = `select store_status_list(@number, @epoch, @issued, @next, @changes, @signed)`

// StoreStatusList keeps a list in place of the one before it.
func (t *Tx) StoreStatusList(ctx context.Context, l StatusList) error {
	return t.exec(ctx, storeStatusList, args{
		"number": l.Number, "epoch": l.Epoch, "issued": l.IssuedAt, "next": l.NextUpdate, "changes": l.Changes, "signed": l.Signed,
	})
}
