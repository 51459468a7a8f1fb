package db

import (
	"context"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const sites = `
select id, name, address, time_zone, paper, language, units, demo from sites
where @id::bigint is null or id = @id order by name`

// Sites gives every site; their names are no secret to people who sign in.
func (d *DB) Sites(ctx context.Context) (_ []commissioning.Site, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Sites")
	return list[commissioning.Site](ctx, d.pool, sites, args{"id": nil})
}

// Site gives one site.
func (d *DB) Site(ctx context.Context, id commissioning.SiteID) (_ commissioning.Site, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Site(%d)", id)
	return one[commissioning.Site](ctx, d.pool, sites, args{"id": id})
}

// Site is the site as of this transaction.
func (t *Tx) Site(ctx context.Context, id commissioning.SiteID) (commissioning.Site, error) {
	return one[commissioning.Site](ctx, t.tx, sites, args{"id": id})
}

const insertSite = `
insert into sites (name, address, time_zone, paper, language, units, demo)
values (@name, @address, @time_zone, @paper, @language, @units, @demo) returning id`

const updateSite = `
update sites set name = @name, address = @address, time_zone = @time_zone, paper = @paper, language = @language, units = @units
where id = @id returning id`

// SaveSite adds the site when its ID is 0, else changes it. Whether it is demo
// is settled when it is added.
func (t *Tx) SaveSite(ctx context.Context, s commissioning.Site) (commissioning.SiteID, error) {
	a := args{"name": s.Name, "address": s.Address, "time_zone": s.TimeZone, "paper": s.Paper, "language": s.Language, "units": s.Units}
	if s.ID == 0 {
		a["demo"] = s.Demo
		return value[commissioning.SiteID](ctx, t.tx, insertSite, a)
	}
	a["id"] = s.ID
	return value[commissioning.SiteID](ctx, t.tx, updateSite, a)
}

const lines = `
select id, site_id as site, name from lines
where @all or site_id = any(@sites) order by site_id, name`

// Lines gives the lines of the sites that the person may read.
func (d *DB) Lines(ctx context.Context, p commissioning.Person) (_ []commissioning.Line, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Lines(%s)", p.ID)
	all, sites := registers(p)
	return list[commissioning.Line](ctx, d.pool, lines, args{"all": all, "sites": sites})
}

const benches = `
select id, site_id as site, name from benches
where @all or site_id = any(@sites) order by site_id, name`

// Benches gives the benches of the sites that the person may read.
func (d *DB) Benches(ctx context.Context, p commissioning.Person) (_ []commissioning.Bench, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Benches(%s)", p.ID)
	all, sites := registers(p)
	return list[commissioning.Bench](ctx, d.pool, benches, args{"all": all, "sites": sites})
}

const insertLine = `insert into lines (site_id, name) values (@site, @name) returning id`

const updateLine = `update lines set name = @name where id = @id and site_id = @site returning id`

// SaveLine adds the line when its ID is 0, else renames it.
func (t *Tx) SaveLine(ctx context.Context, l commissioning.Line) (int64, error) {
	if l.ID == 0 {
		return value[int64](ctx, t.tx, insertLine, args{"site": l.Site, "name": l.Name})
	}
	return value[int64](ctx, t.tx, updateLine, args{"id": l.ID, "site": l.Site, "name": l.Name})
}

const insertBench = `insert into benches (site_id, name) values (@site, @name) returning id`

const updateBench = `update benches set name = @name where id = @id and site_id = @site returning id`

// SaveBench adds the bench when its ID is 0, else renames it.
func (t *Tx) SaveBench(ctx context.Context, b commissioning.Bench) (int64, error) {
	if b.ID == 0 {
		return value[int64](ctx, t.tx, insertBench, args{"site": b.Site, "name": b.Name})
	}
	return value[int64](ctx, t.tx, updateBench, args{"id": b.ID, "site": b.Site, "name": b.Name})
}

const bench = `select id, site_id as site, name from benches where id = @id and site_id = @site`

// Bench gives a bench of the site.
func (t *Tx) Bench(ctx context.Context, id int64, site commissioning.SiteID) (commissioning.Bench, error) {
	return one[commissioning.Bench](ctx, t.tx, bench, args{"id": id, "site": site})
}
