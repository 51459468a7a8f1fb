package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const unitEvents = `
select id::text as id, unit, site_id as site, kind, detail, happened_at, recorded_at, name, coalesce(voided, '') as voided
from unit_events
where unit = @unit and (@all or site_id = any(@sites))
order by happened_at desc, recorded_at desc
limit 200`

// UnitEvents gives what happened to a unit, newest first.
func (d *DB) UnitEvents(ctx context.Context, p commissioning.Person, unit string) (_ []commissioning.UnitEvent, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "UnitEvents(%s, %s)", p.ID, unit)
	all, sites := evidence(p)
	return list[commissioning.UnitEvent](ctx, d.pool, unitEvents, args{"unit": unit, "all": all, "sites": sites})
}

const recordUnitEvent = `
select coalesce(record_unit_event(@id, @unit, @person, @kind, @detail, @happened, @now), '')`

// RecordUnitEvent writes an event and gives the certificate that it ended, ""
// for none. Engineers and supervisors of the unit's site may.
func (t *Tx) RecordUnitEvent(ctx context.Context, e commissioning.UnitEvent, by commissioning.PersonID, now time.Time) (commissioning.CertificateNumber, error) {
	return value[commissioning.CertificateNumber](ctx, t.tx, recordUnitEvent, args{
		"id": e.ID, "unit": e.Unit, "person": by, "kind": e.Kind, "detail": e.Detail, "happened": e.HappenedAt, "now": now,
	})
}
