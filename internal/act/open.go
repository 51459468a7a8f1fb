package act

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
)

// OpenRun opens a run of a free unit by an approved procedure; the opener holds
// the pen. Engineers of the unit's site may. Opening again under the same id
// gives the run; the same id for another unit or procedure is Invalid, so is an
// instrument of another site, and a unit that is not free a Conflict.
func (a *Acts) OpenRun(ctx context.Context, p commissioning.Person, o Opening, now time.Time) (r commissioning.Run, err error) {
	if !isUUID(string(o.ID)) {
		return r, problem.On("id", "The form was not complete. Start again from the unit's page.")
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		opening, err := a.opening(ctx, tx, p, o, moment(now))
		if err != nil {
			return err
		}
		body, err := ledger.Canonical(opening)
		if err != nil {
			return err
		}
		if err := tx.OpenRun(ctx, opening, body); err != nil {
			return err
		}
		r, err = tx.Run(ctx, o.ID)
		return err
	})
	return r, err
}

func (a *Acts) opening(ctx context.Context, tx *db.Tx, p commissioning.Person, o Opening, now time.Time) (commissioning.Opening, error) {
	unit, err := tx.Unit(ctx, o.Unit)
	if problem.KindOf(err) == problem.NotFound || err == nil && !p.Reads(unit.Site) {
		return commissioning.Opening{}, problem.On("unit", "There is no unit %s at your site. Check the tag.", o.Unit)
	}
	if err != nil {
		return commissioning.Opening{}, err
	}
	if err := p.May(commissioning.OpenRun, unit.Site); err != nil {
		return commissioning.Opening{}, err
	}
	site, err := tx.Site(ctx, unit.Site)
	if err != nil {
		return commissioning.Opening{}, err
	}
	procedure, err := tx.Procedure(ctx, o.Procedure, o.Revision)
	if problem.KindOf(err) == problem.NotFound {
		return commissioning.Opening{}, problem.On("procedure", "There is no such procedure. Choose one from the list.")
	}
	if err != nil {
		return commissioning.Opening{}, err
	}
	bench, err := benchOf(ctx, tx, o.Bench, unit.Site)
	if err != nil {
		return commissioning.Opening{}, err
	}
	instruments, err := instrumentsOf(ctx, tx, o.Instruments, unit.Site)
	if err != nil {
		return commissioning.Opening{}, err
	}
	return commissioning.Opening{
		Run: o.ID, OpenedAt: now, OpenedBy: p.ID, Bench: bench.Name,
		Procedure:   commissioning.OpeningProcedure{Key: procedure.Key, Revision: procedure.Revision, SHA256: procedure.SHA256},
		Site:        commissioning.OpeningSite{Name: site.Name, Address: site.Address, TimeZone: site.TimeZone, Paper: site.Paper},
		Unit:        commissioning.OpeningUnit{Tag: unit.Tag, Serial: unit.Serial, Ink: unit.Ink, Makeup: unit.Makeup, Line: unit.Line},
		Instruments: instruments,
	}, nil
}

// instrumentsOf gives the instruments of the site with these ids, by code, as
// they stand now. What is changed later touches no run.
func instrumentsOf(ctx context.Context, tx *db.Tx, ids []int64, site commissioning.SiteID) ([]commissioning.Instrument, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	all, err := tx.Instruments(ctx, site)
	if err != nil {
		return nil, err
	}
	chosen := slices.DeleteFunc(all, func(i commissioning.Instrument) bool { return !slices.Contains(ids, i.ID) })
	if len(chosen) != len(ids) {
		return nil, problem.On("instruments", "Choose instruments of the unit's own site, each once.")
	}
	return chosen, nil
}

// benchOf gives the bench, none where the unit stays at its line (id 0).
func benchOf(ctx context.Context, tx *db.Tx, id int64, site commissioning.SiteID) (commissioning.Bench, error) {
	if id == 0 {
		return commissioning.Bench{}, nil
	}
	bench, err := tx.Bench(ctx, id, site)
	if problem.KindOf(err) == problem.NotFound {
		return bench, problem.On("bench", "There is no such bench at this site. Choose one from the list.")
	}
	return bench, err
}

// TakePen makes the author the one who records in the run. Engineers of the site
// may, while the run is open; both holders are named, in the acts and in a note
// with this id. Unless the holder handed the run over to them, they say why.
func (a *Acts) TakePen(ctx context.Context, by Author, run commissioning.RunID, id, why string, now time.Time) (r commissioning.Run, err error) {
	if !isUUID(id) {
		return r, problem.On("id", "The form was not complete. Load the page again.")
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		book, err := lockLogbook(ctx, tx, by.Person, run)
		if err != nil || book.Run.Pen == by.Person.ID {
			r = book.Run
			return err
		}
		if err := commissioning.TakePen.On(commissioning.Situation{Person: by.Person, Run: book.Run}); err != nil {
			return err
		}
		if commissioning.PenOf(book.Entries, book.Run.Pen).OfferedTo(by.Person.ID) {
			why = cmp.Or(strings.TrimSpace(why), "As handed over.")
		}
		if why, err = required("note", why, "Say why you take the pen; it stays with the run."); err != nil {
			return err
		}
		if err := tx.TakePen(ctx, run, by.Person.ID, why, moment(now)); err != nil {
			return err
		}
		if r, err = tx.Run(ctx, run); err != nil {
			return err
		}
		note := commissioning.Entry{
			ID: id, Kind: commissioning.KindNote, ObservedAt: moment(now), Text: why,
			Note: commissioning.TookPenFrom(book.Names[string(book.Run.Pen)], book.Run.Pen),
		}
		post, err := newPost(by, []commissioning.Entry{note})
		if err != nil {
			return err
		}
		recorded, err := post.store(ctx, tx, r, now, func(commissioning.Run) error { return nil })
		r = recorded.Run
		return err
	})
	return r, err
}

// Abandon ends an open run without a release. The holder of the pen or a
// supervisor of the site may; a reason is needed.
func (a *Acts) Abandon(ctx context.Context, p commissioning.Person, run commissioning.RunID, reason string, now time.Time) error {
	reason, err := required("reason", reason, "Say why the run is abandoned; the reason is kept with it.")
	if err != nil {
		return err
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		if err := lockRun(ctx, tx, p, run); err != nil {
			return err
		}
		return tx.AbandonRun(ctx, run, p.ID, reason, moment(now))
	})
}

// lockRun locks a run of a site that the person may read.
func lockRun(ctx context.Context, tx *db.Tx, p commissioning.Person, id commissioning.RunID) error {
	r, err := tx.LockRun(ctx, id)
	if err == nil && !p.Reads(r.Site) {
		err = noSuchRun()
	}
	return err
}

// lockLogbook locks and reads a run of a site that the person may read.
func lockLogbook(ctx context.Context, tx *db.Tx, p commissioning.Person, id commissioning.RunID) (db.Book, error) {
	b, err := tx.LockLogbook(ctx, id, p.ID)
	if err == nil && !p.Reads(b.Run.Site) {
		err = noSuchRun()
	}
	return b, err
}
