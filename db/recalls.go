package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const lotLoads = `
select r.id::text as run, r.number as run_number, r.state, r.state = 'open' and r.round > 1 as returned, r.unit, r.site_id as site,
  o->'site'->>'name' as site_name, o->'site'->>'time_zone' as time_zone, o->'unit'->>'line' as line,
  e.seq, (b->>'observed_at')::timestamptz as loaded_at, b->>'position' as position, b->>'fluid' as fluid, b->>'lot' as lot,
  e.kind = 'correction' as corrected, coalesce(x.seq, 0) as struck_by, coalesce(x.reason, '') as struck_for,
  coalesce(c.number, '') as certificate
from entries e
join runs r on r.id = e.run_id
cross join lateral (select convert_from(e.body, 'UTF8')::jsonb as j, convert_from(r.opening, 'UTF8')::jsonb as o) as t
cross join lateral (select case e.kind when 'correction' then j->'replacement' else j end as b) as s
left join lateral (
  select k.seq, convert_from(k.body, 'UTF8')::jsonb->>'reason' as reason from entries k
  where k.run_id = e.run_id and k.kind = 'correction' and convert_from(k.body, 'UTF8')::jsonb->>'strikes' = e.seq::text
  limit 1) as x on true
left join releases c on c.run_id = r.id
where e.kind in ('load', 'correction') and entry_lot(e.kind, e.body) = lot_key(@fluid, @lot)
  and (@all or r.site_id = any(@sites))
order by loaded_at desc, e.run_id, e.seq
limit 2000`

// LotLoads gives every entry of the person's sites that put this lot of this
// fluid into a unit, newest first. Spaces and case do not count.
func (d *DB) LotLoads(ctx context.Context, p commissioning.Person, fluid, lot string) (_ []commissioning.LotLoad, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "LotLoads(%s, %s)", fluid, lot)
	all, sites := evidence(p)
	return list[commissioning.LotLoad](ctx, d.pool, lotLoads, args{"fluid": fluid, "lot": lot, "all": all, "sites": sites})
}

// Recall is what quality withdraws for one lot.
type Recall struct {
	ID         string // UUID, made by the form
	Fluid, Lot string
	Numbers    []commissioning.CertificateNumber
	Reason     string
	By         commissioning.PersonID
	Method     string // how the identity was proven
}

const recallCertificates = `
select recall_certificates(@id, @person, @fluid, @lot, @numbers, @reason, @method, @now)`

// Recall withdraws all of the certificates or none, and gives those that were
// withdrawn before. Quality may.
func (t *Tx) Recall(ctx context.Context, r Recall, now time.Time) ([]commissioning.CertificateNumber, error) {
	return value[[]commissioning.CertificateNumber](ctx, t.tx, recallCertificates, args{
		"id": r.ID, "person": r.By, "fluid": r.Fluid, "lot": r.Lot, "numbers": r.Numbers, "reason": r.Reason, "method": r.Method, "now": now,
	})
}

const recalled = `
select array(select n from unnest(asked) as n where n <> all (skipped) order by n) as withdrawn, skipped
from recalls where id = @id::text::uuid and person_id = @person`

// RecallDone is what one recall did.
type RecallDone struct {
	Withdrawn, Skipped []commissioning.CertificateNumber
}

// Recalled gives what the person's own recall with this key did.
func (d *DB) Recalled(ctx context.Context, p commissioning.Person, key string) (_ RecallDone, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Recalled(%s)", key)
	return one[RecallDone](ctx, d.pool, recalled, args{"id": key, "person": p.ID})
}
