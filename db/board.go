package db

import (
	"context"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const liveRuns = `
select id, number, unit, site, line, bench, procedure, revision, state, round, seq, head, opened_at, opened_by, pen, demo,
  submitted_at, released_at, returned_at, return_reason, abandoned_at, end_reason, certificate
from run_rows
where state in ('open', 'submitted') and (@all or site = any(@sites))`

const openings = `
select id::text as run, opening,
  array(select c.person_id from contributors c where c.run_id = r.id order by since, person_id) as contributors
from runs r where id = any(@runs::text[]::uuid[])`

type openingRow struct {
	Run          commissioning.RunID
	Opening      []byte
	Contributors []commissioning.PersonID
}

// Board gives every unit of the person's sites in board order, with its live
// run. The number of queries does not grow with the number of units. Books hold
// what the board needs: run, unit, site, procedure, entries, contributors and
// names; they are blinded.
func (d *DB) Board(ctx context.Context, p commissioning.Person) (rows []BoardRow, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Board(%s)", p.ID)
	all, sites := evidence(p)
	err = d.snapshot(ctx, func(q querier) error {
		tags, err := list[commissioning.Unit](ctx, q, units, args{"all": all, "sites": sites, "tag": nil})
		if err != nil {
			return err
		}
		books, err := liveBooks(ctx, q, all, sites)
		if err != nil {
			return err
		}
		for _, u := range tags {
			row := BoardRow{Unit: u}
			if b, live := books[u.Tag]; live {
				row.Run, row.Book = &b.Run, b
			}
			rows = append(rows, row)
		}
		return nil
	})
	return rows, err
}

// liveBooks gives the book of each live run by unit.
func liveBooks(ctx context.Context, q querier, all bool, sites []int64) (map[string]*Book, error) {
	runs, err := list[commissioning.Run](ctx, q, liveRuns, args{"all": all, "sites": sites})
	if err != nil {
		return nil, err
	}
	ids := []string{}
	for _, r := range runs {
		ids = append(ids, string(r.ID))
	}
	openings, err := list[openingRow](ctx, q, openings, args{"runs": ids})
	if err != nil {
		return nil, err
	}
	entries, err := readEntries(ctx, q, ids)
	if err != nil {
		return nil, err
	}
	names, err := readNames(ctx, q)
	if err != nil {
		return nil, err
	}
	opening := map[commissioning.RunID]openingRow{}
	for _, o := range openings {
		opening[o.Run] = o
	}
	books := map[string]*Book{}
	for _, r := range runs {
		b := Book{Run: r, Entries: entries[r.ID], Contributors: opening[r.ID].Contributors, Names: names}
		if err := b.opened(opening[r.ID].Opening); err != nil {
			return nil, err
		}
		if b.Procedure, err = readProcedure(ctx, q, r.Procedure, r.Revision); err != nil {
			return nil, err
		}
		b = b.Blinded()
		books[r.Unit] = &b
	}
	return books, nil
}
