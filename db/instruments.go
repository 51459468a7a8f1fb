package db

import (
	"context"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const instruments = `
select id, site_id as site, code, name, serial, quantity, uncertainty::text as uncertainty, unit, k::text as k, due::text as due
from instruments
where @all or site_id = any(@sites) order by site_id, code`

// Instruments gives the instruments of the sites that the person may read.
func (d *DB) Instruments(ctx context.Context, p commissioning.Person) (_ []commissioning.Instrument, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Instruments(%s)", p.ID)
	all, sites := registers(p)
	return list[commissioning.Instrument](ctx, d.pool, instruments, args{"all": all, "sites": sites})
}

// Instruments gives the instruments of one site by code, as of this transaction.
func (t *Tx) Instruments(ctx context.Context, site commissioning.SiteID) ([]commissioning.Instrument, error) {
	return list[commissioning.Instrument](ctx, t.tx, instruments, args{"all": false, "sites": []int64{int64(site)}})
}

const insertInstrument = `
insert into instruments (site_id, code, name, serial, quantity, uncertainty, unit, k, due)
values (@site, @code, @name, @serial, @quantity, @uncertainty::text::numeric, @unit, @k::text::numeric, @due::text::date)
returning id`

const updateInstrument = `
update instruments set name = @name, serial = @serial, quantity = @quantity, uncertainty = @uncertainty::text::numeric,
  unit = @unit, k = @k::text::numeric, due = @due::text::date
where id = @id and site_id = @site and code = @code returning id`

// SaveInstrument adds the instrument when its ID is 0, else changes it; it
// keeps its site and its code.
func (t *Tx) SaveInstrument(ctx context.Context, i commissioning.Instrument) (int64, error) {
	a := args{
		"site": i.Site, "code": i.Code, "name": i.Name, "serial": i.Serial, "quantity": string(i.Quantity),
		"uncertainty": i.Uncertainty, "unit": i.Unit, "k": i.K, "due": i.Due,
	}
	if i.ID == 0 {
		return value[int64](ctx, t.tx, insertInstrument, a)
	}
	a["id"] = i.ID
	return value[int64](ctx, t.tx, updateInstrument, a)
}
