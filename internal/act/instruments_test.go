package act_test

import (
	"bytes"
	"testing"

	"github.com/google/go-cmp/cmp"

	"settlemark/internal/act"
	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/rules"
)

// instrument puts one into the register of a site.
func (w *world) instrument(site commissioning.SiteID, code, due string) commissioning.Instrument {
	w.t.Helper()
	saved, err := w.SaveInstrument(w.t.Context(), w.admin, commissioning.Instrument{
		Site: site, Code: code, Name: "Bench viscometer", Serial: "4410 07", Quantity: "viscosity", Uncertainty: "0.05", Unit: "mPa.s", K: "2", Due: due,
	}, morning)
	must(w.t, err)
	return saved
}

func (w *world) openWith(instruments ...int64) (commissioning.Run, error) {
	return w.OpenRun(w.t.Context(), w.engineer, act.Opening{
		ID: commissioning.RunID(newID()), Unit: "U-1", Procedure: "bench", Revision: 1, Bench: w.bench.ID, Instruments: instruments,
	}, morning)
}

func TestInstrumentsOfRun(t *testing.T) {
	w := newWorld(t)
	w.openLog()
	ctx := t.Context()
	late, fine := w.instrument(w.site.ID, "V-12", "2026-03-03"), w.instrument(w.site.ID, "V-02", "2026-12-31")
	elsewhere := w.instrument(w.other.ID, "V-90", "2026-12-31")
	for name, ids := range map[string][]int64{
		"an instrument of another site is refused": {elsewhere.ID}, "one that there is not is refused": {999}, "one chosen twice is refused": {fine.ID, fine.ID},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := w.openWith(ids...)
			refused(t, err, problem.Invalid)
		})
	}
	run, err := w.openWith(late.ID, fine.ID)
	must(t, err)
	logbook := func() commissioning.Logbook {
		book, err := w.db.Logbook(ctx, w.engineer, run.ID)
		must(t, err)
		return book.Logbook(evening)
	}
	pinned := func() []commissioning.Instrument { return logbook().Run.Instruments }
	before := pinned()
	t.Run("the run keeps them by code, as they stood", func(t *testing.T) {
		want := []commissioning.Instrument{fine, late}
		for i := range want {
			want[i].ID, want[i].Site = 0, 0
		}
		if diff := cmp.Diff(want, before); diff != "" {
			t.Error(diff)
		}
	})
	t.Run("a later change of the register does not touch the run", func(t *testing.T) {
		recalibrated := late
		recalibrated.Due, recalibrated.Serial = "2027-03-03", "other"
		_, err := w.SaveInstrument(ctx, w.admin, recalibrated, at(5))
		must(t, err)
		if diff := cmp.Diff(before, pinned()); diff != "" {
			t.Error(diff)
		}
	})
	recorded := w.work(run.ID, "L 24 O")
	assessment := rules.Judge(logbook(), evening)
	t.Run("the first reading with the overdue one waits for a supervisor", func(t *testing.T) {
		needed := assessment.DecisionsNeeded
		if len(needed) != 1 || needed[0].Code != "instrument_overdue" || assessment.Verdict != rules.Blocked {
			t.Fatalf("%+v", assessment)
		}
		must(t, w.Submit(ctx, w.engineer, run.ID, w.signing(w.engineer, recorded.Run.Head), at(45)))
		must(t, w.ReadSample(ctx, w.supervisor, run.ID, "l24o", at(50)))
		_, err := w.Countersign(ctx, w.supervisor, run.ID, w.signing(w.supervisor, w.run(run.ID).Head), "", at(51))
		refused(t, err, problem.Conflict)
	})
	t.Run("accepted it is released, and the paper carries the instruments", func(t *testing.T) {
		ruled, err := w.Rule(ctx, w.supervisor, run.ID, w.run(run.ID).Head, entry(commissioning.Entry{
			Kind: commissioning.KindDisposition, Ref: assessment.DecisionsNeeded[0].Ref, Decision: commissioning.Accept, Reason: "Compared with V-02",
		}, 52), at(52))
		must(t, err)
		number, err := w.Countersign(ctx, w.supervisor, run.ID, w.signing(w.supervisor, ruled.Run.Head), "", at(53))
		must(t, err)
		w.seal(evening)
		must(t, w.Issue(ctx, number))
		pdf, _, err := w.db.CertificatePDF(ctx, w.engineer, number)
		must(t, err)
		contents, err := certificate.Read(pdf)
		must(t, err)
		book, err := commissioning.ParseLogbook(bytes.NewReader(contents.Logbook))
		must(t, err)
		if diff := cmp.Diff(before, book.Run.Instruments); diff != "" {
			t.Error(diff)
		}
		if again := rules.Encode(rules.Judge(book, book.At)); !bytes.Equal(again, contents.Assessment) {
			t.Errorf("%s\n%s", again, contents.Assessment)
		}
	})
}
