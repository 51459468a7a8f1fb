package act_test

import (
	"testing"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// A stranger reads nothing of another site, and is told that it does not exist.
func TestScope(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	number := w.released("U-1")
	r := w.submitted("U-1")
	book, err := w.db.Logbook(ctx, w.engineer, r.ID)
	must(t, err)
	photo := book.Photos[0].SHA256
	for name, p := range map[string]commissioning.Person{"somebody of another site": w.stranger, "an administrator": w.admin, "nobody": {ID: "P-0099"}} {
		t.Run(name, func(t *testing.T) {
			_, err := w.db.Run(ctx, p, r.ID)
			refused(t, err, problem.NotFound)
			_, err = w.db.Logbook(ctx, p, r.ID)
			refused(t, err, problem.NotFound)
			_, err = w.db.Photo(ctx, p, r.ID, photo)
			refused(t, err, problem.NotFound)
			_, err = w.db.Certificate(ctx, p, number)
			refused(t, err, problem.NotFound)
			_, _, err = w.db.CertificatePDF(ctx, p, number)
			refused(t, err, problem.NotFound)
			for what, found := range map[string]func() (int, error){
				"runs of the unit": func() (int, error) { rows, err := w.db.UnitRuns(ctx, p, "U-1"); return len(rows), err },
				"own runs":         func() (int, error) { rows, err := w.db.MyRuns(ctx, p); return len(rows), err },
				"certificates": func() (int, error) {
					rows, err := w.db.Certificates(ctx, p, db.CertificateFilter{}, evening)
					return len(rows), err
				},
				"board":            func() (int, error) { rows, err := w.db.Board(ctx, p); return len(rows), err },
				"acts of the runs": func() (int, error) { rows, err := w.db.Acts(ctx, p, db.ActFilter{Run: r.ID}); return len(rows), err },
			} {
				if n, err := found(); n != 0 || err != nil {
					t.Errorf("%s: %d, %v", what, n, err)
				}
			}
			refused(t, w.Submit(ctx, p, r.ID, w.signing(p, r.Head), evening), problem.NotFound)
			refused(t, w.ReadSample(ctx, p, r.ID, "x", evening), problem.NotFound)
			refused(t, w.Return(ctx, p, r.ID, r.Head, "x", evening), problem.NotFound)
			refused(t, w.Abandon(ctx, p, r.ID, "x", evening), problem.NotFound)
			_, err = w.TakePen(ctx, author(p), r.ID, newID(), "mine now", evening)
			refused(t, err, problem.NotFound)
		})
	}
	t.Run("registers of another site", func(t *testing.T) {
		_, err := w.db.Unit(ctx, w.stranger, "U-1")
		refused(t, err, problem.NotFound)
		units, err := w.db.Units(ctx, w.stranger)
		must(t, err)
		lines, err := w.db.Lines(ctx, w.stranger)
		must(t, err)
		benches, err := w.db.Benches(ctx, w.stranger)
		must(t, err)
		_, err = w.SaveInstrument(ctx, w.supervisor, spindle(w.site.ID), morning)
		must(t, err)
		_, err = w.SaveInstrument(ctx, w.stranger, spindle(w.site.ID), morning)
		refused(t, err, problem.Forbidden)
		instruments, err := w.db.Instruments(ctx, w.stranger)
		must(t, err)
		if len(units)+len(lines)+len(benches)+len(instruments) != 0 {
			t.Errorf("got %v %v %v %v", units, lines, benches, instruments)
		}
		own, err := w.db.Instruments(ctx, w.engineer)
		must(t, err)
		if want := spindle(w.site.ID); len(own) != 1 || own[0].Due != want.Due || own[0].Uncertainty != want.Uncertainty || own[0].K != want.K {
			t.Errorf("the site's own read %v", own)
		}
	})
	t.Run("people of the site, and quality, read all of it", func(t *testing.T) {
		for _, p := range []commissioning.Person{w.engineer, w.supervisor, w.quality} {
			if _, err := w.db.Run(ctx, p, r.ID); err != nil {
				t.Error(err)
			}
			board, err := w.db.Board(ctx, p)
			if err != nil || len(board) != 1 || board[0].Run == nil || board[0].Run.ID != r.ID || len(board[0].Book.Entries) != r.Seq {
				t.Errorf("board: %v, %v", board, err)
			}
		}
		mine, err := w.db.MyRuns(ctx, w.engineer)
		if err != nil || len(mine) != 2 || mine[0].ID != r.ID {
			t.Errorf("own runs, live first: %v, %v", mine, err)
		}
	})
}

func TestOpenRun(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	opening := func() act.Opening {
		return act.Opening{ID: commissioning.RunID(newID()), Unit: "U-1", Procedure: "bench", Revision: 1, Bench: w.bench.ID}
	}
	_, err := w.AddProcedure(ctx, &w.quality, secondRevision(), false, evening)
	must(t, err)
	for name, c := range map[string]struct {
		by     commissioning.Person
		change func(*act.Opening)
		kind   problem.Kind
	}{
		"a supervisor":             {w.supervisor, func(*act.Opening) {}, problem.Forbidden},
		"quality":                  {w.quality, func(*act.Opening) {}, problem.Forbidden},
		"somebody of another site": {w.stranger, func(*act.Opening) {}, problem.Invalid},
		"an unknown unit":          {w.engineer, func(o *act.Opening) { o.Unit = "U-9" }, problem.Invalid},
		"an unknown procedure":     {w.engineer, func(o *act.Opening) { o.Procedure = "other" }, problem.Invalid},
		"an unknown bench":         {w.engineer, func(o *act.Opening) { o.Bench = 99 }, problem.Invalid},
		"a revision not approved":  {w.engineer, func(o *act.Opening) { o.Revision = 2 }, problem.Conflict},
		"an id that is none":       {w.engineer, func(o *act.Opening) { o.ID = "1" }, problem.Invalid},
	} {
		t.Run(name, func(t *testing.T) {
			o := opening()
			c.change(&o)
			_, err := w.OpenRun(ctx, c.by, o, morning)
			refused(t, err, c.kind)
		})
	}
	t.Run("its author can't approve a revision", func(t *testing.T) {
		refused(t, w.ApproveProcedure(ctx, w.quality, "bench", 2, w.approval(ctx, w.quality, "bench", 2), evening), problem.Forbidden)
	})
	o := opening()
	first, err := w.OpenRun(ctx, w.engineer, o, morning)
	must(t, err)
	t.Run("twice under one id is once", func(t *testing.T) {
		second, err := w.OpenRun(ctx, w.engineer, o, evening)
		must(t, err)
		if second.Number != first.Number || !second.OpenedAt.Equal(morning) {
			t.Errorf("got %+v", second)
		}
	})
	t.Run("a unit with a live run is not free", func(t *testing.T) {
		_, err := w.OpenRun(ctx, w.engineer, opening(), morning)
		refused(t, err, problem.Conflict)
	})
	t.Run("a run keeps the unit and site that it was opened on", func(t *testing.T) {
		_, err := w.SaveUnit(ctx, w.admin, commissioning.Unit{Tag: "U-1", Site: w.site.ID, LineID: w.line.ID, Serial: "other", Ink: "K-20", Makeup: "K-20M"}, evening)
		must(t, err)
		book, err := w.db.Logbook(ctx, w.engineer, first.ID)
		must(t, err)
		if book.Unit.Serial != "S-U-1" || book.Site.Name != "North" || book.Run.Bench != "Bench 1" || book.Run.Line != "Line 4" {
			t.Errorf("got %+v %+v", book.Unit, book.Run)
		}
	})
	t.Run("the pen is taken, not lent: both are named, and the taker is one who worked", func(t *testing.T) {
		r, err := w.TakePen(ctx, author(w.second), first.ID, newID(), "shift change", evening)
		must(t, err)
		_, err = w.Record(ctx, author(w.engineer), first.ID, []commissioning.Entry{done("jet-off", 1)}, evening)
		refused(t, err, problem.Forbidden)
		acts, err := w.db.Acts(ctx, w.quality, db.ActFilter{Run: first.ID})
		must(t, err)
		if r.Pen != w.second.ID || acts[0].Act != "pen taken" || acts[0].Name != "Piet Oost" || acts[0].Detail != "from Mira Sand: shift change" {
			t.Errorf("got %+v", acts[0])
		}
		refused(t, errOf(w.TakePen(ctx, author(w.supervisor), first.ID, newID(), "let me", evening)), problem.Forbidden)
	})
	t.Run("an abandoned run frees the unit and is never changed again", func(t *testing.T) {
		refused(t, w.Abandon(ctx, w.engineer, first.ID, "pump broken", evening), problem.Forbidden) // no pen
		refused(t, w.Abandon(ctx, w.second, first.ID, "", evening), problem.Invalid)
		must(t, w.Abandon(ctx, w.second, first.ID, "pump broken", evening))
		if r := w.run(first.ID); r.State != commissioning.Abandoned || r.EndReason != "pump broken" {
			t.Errorf("got %+v", r)
		}
		_, err := w.Record(ctx, author(w.second), first.ID, []commissioning.Entry{remark("x", 1)}, evening)
		refused(t, err, problem.Conflict)
		w.open("U-1")
	})
}

func errOf(_ commissioning.Run, err error) error { return err }

func spindle(site commissioning.SiteID) commissioning.Instrument {
	return commissioning.Instrument{
		Site: site, Code: "V-12", Name: "Viscometer", Serial: "88", Quantity: "viscosity", Uncertainty: "0.050", Unit: "mPa.s", K: "2", Due: "2026-11-30",
	}
}
