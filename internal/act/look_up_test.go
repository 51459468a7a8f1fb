package act_test

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

func TestLookUp(t *testing.T) {
	w := newWorld(t)
	r := w.submitted("U-1")
	ctx := t.Context()
	must(t, w.ReadSample(ctx, w.supervisor, r.ID, "l24 o", at(50)))
	number, err := w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", at(51))
	must(t, err)
	document, err := w.db.Document(ctx, number)
	must(t, err)
	digits := fmt.Sprintf("%x", sha256.Sum256(document))[:10]
	for _, code := range []string{
		"C-0001 " + digits[:5] + " " + digits[5:], "c-0001-" + digits, "C-0001-" + digits[:5] + "-" + digits[5:],
		"  C-0001  " + strings.ToUpper(digits) + " ",
	} {
		c, err := w.LookUp(ctx, code, "192.0.2.1", at(52))
		if err != nil || c.Number != number || c.Status(at(52)) != commissioning.Valid {
			t.Errorf("%q: %v %v", code, c, err)
		}
	}
	_, err = w.LookUp(ctx, "C-0001 00000 00000", "192.0.2.1", at(52))
	refused(t, err, problem.NotFound)
	_, err = w.LookUp(ctx, "C-0001", "192.0.2.1", at(52))
	refused(t, err, problem.Invalid)
	for range 30 {
		_, err = w.LookUp(ctx, "C-0001 11111 11111", "192.0.2.2", at(53))
	}
	refused(t, err, problem.TooMany)
}
