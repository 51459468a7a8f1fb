package act_test

import (
	"testing"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

func TestRelease(t *testing.T) {
	w := newWorld(t)
	r := w.submitted("U-1")
	ctx := t.Context()

	t.Run("the engineer can not countersign", func(t *testing.T) {
		_, err := w.Countersign(ctx, w.engineer, r.ID, w.signing(w.engineer, r.Head), "", at(50))
		refused(t, err, problem.Forbidden)
	})
	t.Run("not before the print sample was read", func(t *testing.T) {
		_, err := w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", at(50))
		refused(t, err, problem.Conflict)
	})
	must(t, w.ReadSample(ctx, w.supervisor, r.ID, "l24 o", at(50)))
	t.Run("not with somebody else's passkey", func(t *testing.T) {
		_, err := w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.deputy, r.Head), "", at(50))
		refused(t, err, problem.Invalid)
	})
	t.Run("not over another head than was shown", func(t *testing.T) {
		_, err := w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.supervisor, make([]byte, 32)), "", at(50))
		refused(t, err, problem.Conflict)
	})
	t.Run("then the certificate exists, and a second click finds it", func(t *testing.T) {
		s := w.signing(w.supervisor, r.Head)
		first, err := w.Countersign(ctx, w.supervisor, r.ID, s, "", at(51))
		must(t, err)
		second, err := w.Countersign(ctx, w.supervisor, r.ID, s, "", at(51))
		must(t, err)
		if first != "C-0001" || second != first {
			t.Errorf("got %s and %s", first, second)
		}
	})
	must(t, w.Issue(ctx, "C-0001"))
	c, err := w.db.Certificate(ctx, w.quality, "C-0001")
	must(t, err)
	if c.Engineer != "Mira Sand" || c.Supervisor != "Tomas Reed" || c.Line != "Line 4" || len(c.Lots) != 1 ||
		c.Status(at(60)) != commissioning.Valid || c.RunNumber != r.Number {
		t.Errorf("got %+v", c)
	}
	t.Run("nothing can be added to a released run", func(t *testing.T) {
		_, err := w.Record(ctx, author(w.engineer), r.ID, []commissioning.Entry{remark("late", 52)}, evening)
		refused(t, err, problem.Conflict)
	})
}
