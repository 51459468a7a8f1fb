package db

import (
	"context"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const fluids = `
select code, name, position, base, figures from fluids where @code::text is null or code = @code order by position, code`

// Fluids gives every ink and make-up.
func (d *DB) Fluids(ctx context.Context) (_ []commissioning.Fluid, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Fluids")
	return list[commissioning.Fluid](ctx, d.pool, fluids, args{"code": nil})
}

// Fluid is the fluid as of this transaction.
func (t *Tx) Fluid(ctx context.Context, code string) (commissioning.Fluid, error) {
	return one[commissioning.Fluid](ctx, t.tx, fluids, args{"code": code})
}

// readFluid gives a fluid for estimates; nothing where the register has no such
// code, since a run is read in any case.
func readFluid(ctx context.Context, q querier, code string) (commissioning.Fluid, error) {
	found, err := list[commissioning.Fluid](ctx, q, fluids, args{"code": code})
	if err != nil || len(found) == 0 {
		return commissioning.Fluid{}, err
	}
	return found[0], nil
}

const saveFluid = `
insert into fluids (code, name, position, base, figures) values (@code, @name, @position, @base, @figures)
on conflict (code) do update set name = @name, position = @position, base = @base, figures = @figures`

// SaveFluid adds or changes the fluid with this code.
func (t *Tx) SaveFluid(ctx context.Context, f commissioning.Fluid) error {
	figures := f.Figures
	if figures == nil {
		figures = commissioning.Figures{} // an empty object, not a null
	}
	return t.exec(ctx, saveFluid, args{"code": f.Code, "name": f.Name, "position": f.Position, "base": f.Base, "figures": figures})
}

const units = `
select u.tag, u.site_id as site, u.line_id, l.name as line, u.serial, u.ink, u.makeup, u.place
from units u join lines l on l.id = u.line_id
where (@all or u.site_id = any(@sites)) and (@tag::text is null or u.tag = @tag)
order by u.site_id, u.place`

// Units gives the units of the sites that the person may read, in board order.
func (d *DB) Units(ctx context.Context, p commissioning.Person) (_ []commissioning.Unit, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Units(%s)", p.ID)
	all, sites := registers(p)
	return list[commissioning.Unit](ctx, d.pool, units, args{"all": all, "sites": sites, "tag": nil})
}

// Unit gives one unit of a site that the person may read.
func (d *DB) Unit(ctx context.Context, p commissioning.Person, tag string) (_ commissioning.Unit, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Unit(%s, %s)", p.ID, tag)
	all, sites := registers(p)
	return one[commissioning.Unit](ctx, d.pool, units, args{"all": all, "sites": sites, "tag": tag})
}

// Unit is the unit as of this transaction, whoever asks.
func (t *Tx) Unit(ctx context.Context, tag string) (commissioning.Unit, error) {
	return one[commissioning.Unit](ctx, t.tx, units, args{"all": true, "sites": []int64{}, "tag": tag})
}

// A unit stays at its site and on its place.
const saveUnit = `
insert into units as u (tag, site_id, line_id, serial, ink, makeup, place)
values (@tag, @site, @line, @serial, @ink, @makeup,
  (select coalesce(max(place), 0) + 1 from units where site_id = @site))
on conflict (tag) do update set line_id = @line, serial = @serial, ink = @ink, makeup = @makeup
where u.site_id = @site
returning tag`

// SaveUnit adds or changes the unit with this tag. NotFound when the tag is at
// another site.
func (t *Tx) SaveUnit(ctx context.Context, u commissioning.Unit) error {
	_, err := value[string](ctx, t.tx, saveUnit, args{
		"tag": u.Tag, "site": u.Site, "line": u.LineID, "serial": u.Serial, "ink": u.Ink, "makeup": u.Makeup,
	})
	return err
}

const loggers = `
select id, name, site_id as site,
  array(select unit from logger_units where logger_id = l.id order by unit) as units, quantities
from loggers l where @id::text is null or id = @id order by id`

// Loggers gives every gateway with the units that it reports for.
func (d *DB) Loggers(ctx context.Context) (_ []commissioning.Logger, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Loggers")
	return list[commissioning.Logger](ctx, d.pool, loggers, args{"id": nil})
}

// Logger gives one gateway.
func (d *DB) Logger(ctx context.Context, id string) (_ commissioning.Logger, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Logger(%s)", id)
	return one[commissioning.Logger](ctx, d.pool, loggers, args{"id": id})
}

const insertLogger = `insert into loggers (name, site_id, quantities) values (@name, @site, coalesce(@quantities::text[], '{}')) returning id`

const updateLogger = `
update loggers set name = @name, quantities = coalesce(@quantities::text[], '{}') where id = @id and site_id = @site returning id`

const clearLoggerUnits = `delete from logger_units where logger_id = @logger`

const insertLoggerUnits = `
insert into logger_units (logger_id, unit)
select @logger, u.tag from units u where u.tag = any(@units) and u.site_id = @site`

// SaveLogger adds the gateway when its ID is "", else changes it. Units of
// other sites are left out.
func (t *Tx) SaveLogger(ctx context.Context, l commissioning.Logger) (id string, err error) {
	if l.ID == "" {
		id, err = value[string](ctx, t.tx, insertLogger, args{"name": l.Name, "site": l.Site, "quantities": l.Quantities})
	} else {
		id, err = value[string](ctx, t.tx, updateLogger, args{"id": l.ID, "name": l.Name, "site": l.Site, "quantities": l.Quantities})
	}
	if err != nil {
		return "", err
	}
	if err := t.exec(ctx, clearLoggerUnits, args{"logger": id}); err != nil {
		return "", err
	}
	return id, t.exec(ctx, insertLoggerUnits, args{"logger": id, "units": l.Units, "site": l.Site})
}
