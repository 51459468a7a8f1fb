package act_test

import (
	"slices"
	"testing"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/rules"
)

// pen is what the logbook of a run says of its pen.
func (w *world) pen(run commissioning.RunID) (commissioning.Pen, []commissioning.Entry) {
	w.t.Helper()
	book, err := w.db.Logbook(w.t.Context(), w.engineer, run)
	must(w.t, err)
	return commissioning.PenOf(book.Entries, book.Run.Pen), book.Entries
}

func TestHandOver(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	r := w.open("U-1")
	take := func(p commissioning.Person, id, why string, minute int) error {
		_, err := w.TakePen(ctx, author(p), r.ID, id, why, at(minute))
		return err
	}
	t.Run("whoever takes the pen unasked says why", func(t *testing.T) {
		refused(t, take(w.second, newID(), " ", 1), problem.Invalid)
		if got := w.run(r.ID); got.Pen != w.engineer.ID || got.Seq != 0 {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("and without an id of its own nothing is taken", func(t *testing.T) {
		refused(t, take(w.second, "", "mine", 1), problem.Invalid)
	})
	id := newID()
	must(t, take(w.second, id, "Mira is at the dentist", 2))
	t.Run("both are named in the logbook, once", func(t *testing.T) {
		must(t, take(w.second, id, "Mira is at the dentist", 3))
		pen, entries := w.pen(r.ID)
		if len(entries) != 1 || entries[0].Text != "Mira is at the dentist" || entries[0].By != string(w.second.ID) {
			t.Fatalf("got %+v", entries)
		}
		if name, from := entries[0].TakenFrom(); name != w.engineer.Name || from != w.engineer.ID || pen.Holder != w.second.ID || !pen.Since.Equal(at(2)) {
			t.Errorf("from %s %s, %+v", name, from, pen)
		}
	})
	handOver := remark("the second flush is in, watch the level", 4)
	handOver.Note = commissioning.HandOverTo(w.engineer)
	_, err := w.Record(ctx, author(w.second), r.ID, []commissioning.Entry{handOver}, evening)
	must(t, err)
	t.Run("a hand-over leaves the pen with its holder until it is taken", func(t *testing.T) {
		pen, _ := w.pen(r.ID)
		if pen.Holder != w.second.ID || !pen.OfferedTo(w.engineer.ID) || pen.OfferedTo(w.second.ID) {
			t.Errorf("got %+v", pen)
		}
	})
	must(t, take(w.engineer, newID(), "", 6))
	t.Run("whom it was handed over to takes it without a further word, and finds the note", func(t *testing.T) {
		pen, entries := w.pen(r.ID)
		if pen.Holder != w.engineer.ID || pen.Offered != nil || pen.HandedBy == nil || pen.HandedBy.Text != handOver.Text {
			t.Errorf("got %+v of %+v", pen, entries)
		}
		_, err := w.Record(ctx, author(w.engineer), r.ID, []commissioning.Entry{done("jet-off", 7)}, evening)
		must(t, err)
		if pen, _ := w.pen(r.ID); pen.HandedBy != nil {
			t.Errorf("still there after the new holder went on: %+v", pen)
		}
	})
	t.Run("a hand-over of somebody who does not hold the pen offers nothing", func(t *testing.T) {
		stray := remark("take it, do", 8)
		stray.Note = commissioning.HandOverTo(w.engineer)
		_, err := w.Record(ctx, author(w.second), r.ID, []commissioning.Entry{stray}, evening)
		must(t, err)
		if pen, _ := w.pen(r.ID); pen.Offered != nil {
			t.Errorf("got %+v", pen)
		}
	})
}

// What comes from a tablet after its writer lost the pen is to be looked at: a
// good reading counts only once a supervisor has accepted it.
func TestPencilOfWhoLostThePen(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	r := w.open("U-1")
	w.record(r.ID, done("jet-off", 1), entry(commissioning.Entry{Kind: commissioning.KindStart}, 2))
	s := w.slate(w.engineer, r.ID, "tablet a")
	before := s.writes(viscosity("4.50", 4))
	_, err := w.TakePen(ctx, author(w.second), r.ID, newID(), "shift", at(5))
	must(t, err)
	after := s.writes(viscosity("4.50", 8))
	checks := func() int {
		t.Helper()
		book, err := w.db.Logbook(ctx, w.engineer, r.ID)
		must(t, err)
		return rules.Examine(book.Logbook(at(9)), at(9)).Assessment.Viscosity.Checks
	}
	refs := slices.Concat(s.sends(before).Seqs, s.sends(after).Seqs)
	if n := checks(); n != 0 {
		t.Errorf("%d checks count before anybody has looked at them", n)
	}
	for i, ref := range refs {
		_, err := w.Rule(ctx, w.supervisor, r.ID, w.run(r.ID).Head, entry(commissioning.Entry{
			Kind: commissioning.KindDisposition, Ref: ref, Decision: commissioning.Accept, Reason: "both were at the unit",
		}, 9), at(9))
		must(t, err)
		if n := checks(); n != i+1 {
			t.Errorf("%d checks count after %d were accepted", n, i+1)
		}
	}
}
