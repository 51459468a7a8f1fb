package act_test

import (
	"bytes"
	"testing"

	"settlemark/db"
	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

var noFilter = db.ActFilter{}

func TestCertificates(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	first, second := w.released("U-1"), w.released("U-1")
	w.unitOrFail("U-2")
	other := w.released("U-2")
	status := func(n commissioning.CertificateNumber) commissioning.CertificateStatus {
		c, err := w.db.Certificate(ctx, w.quality, n)
		must(t, err)
		return c.Status(at(60))
	}
	t.Run("numbers leave no gap", func(t *testing.T) {
		if first != "C-0001" || second != "C-0002" || other != "C-0003" {
			t.Errorf("got %s %s %s", first, second, other)
		}
	})
	t.Run("a newer release of the unit supersedes the one before", func(t *testing.T) {
		if status(first) != commissioning.Superseded || status(second) != commissioning.Valid || status(other) != commissioning.Valid {
			t.Errorf("got %s %s %s", status(first), status(second), status(other))
		}
	})
	t.Run("the file holds what the document says", func(t *testing.T) {
		pdf, _, err := w.db.CertificatePDF(ctx, w.engineer, first)
		must(t, err)
		contents, err := certificate.Read(pdf)
		must(t, err)
		stored, err := w.db.Document(ctx, first)
		must(t, err)
		document, err := certificate.Decode(stored)
		must(t, err)
		if contents.Number != string(first) || document.Number != string(first) || !bytes.Equal(contents.Record, stored) {
			t.Errorf("got %s, %s", contents.Number, document.Number)
		}
		signer, err := certificate.SignedBy(pdf)
		if err != nil || signer != siteSigner.Fingerprint() || document.Signer != signer {
			t.Errorf("signed by %s, %v", signer, err)
		}
	})
	t.Run("issuing again changes nothing", func(t *testing.T) {
		before, hash, err := w.db.CertificatePDF(ctx, w.quality, first)
		must(t, err)
		must(t, w.Issue(ctx, first))
		after, again, err := w.db.CertificatePDF(ctx, w.quality, first)
		must(t, err)
		if !bytes.Equal(before, after) || hash != again {
			t.Error("the file changed")
		}
	})
	t.Run("only quality withdraws, with a reason", func(t *testing.T) {
		withdraw := func(p commissioning.Person, number commissioning.CertificateNumber, reason string) error {
			return w.withdraw(p, number, reason, evening)
		}
		for _, p := range []commissioning.Person{w.engineer, w.supervisor, w.admin, w.stranger} {
			refused(t, withdraw(p, second, "x"), problem.Forbidden)
		}
		refused(t, withdraw(w.quality, second, " "), problem.Invalid)
		refused(t, withdraw(w.quality, "C-0099", "x"), problem.NotFound)
		must(t, withdraw(w.quality, second, "wrong ink lot"))
		must(t, withdraw(w.quality, second, "wrong ink lot")) // a second click
		refused(t, withdraw(w.quality, second, "another reason"), problem.Conflict)
		if status(second) != commissioning.Withdrawn {
			t.Errorf("got %s", status(second))
		}
	})
	t.Run("the list narrows by each field", func(t *testing.T) {
		later := evening.AddDate(1, 0, 0)
		for name, c := range map[string]struct {
			filter db.CertificateFilter
			want   int
		}{
			"nothing":         {db.CertificateFilter{}, 3},
			"unit":            {db.CertificateFilter{Unit: "u-2"}, 1},
			"line":            {db.CertificateFilter{Line: "line 4"}, 3},
			"another line":    {db.CertificateFilter{Line: "Line 5"}, 0},
			"lot":             {db.CertificateFilter{Lot: "L-77"}, 3},
			"another lot":     {db.CertificateFilter{Lot: "L-78"}, 0},
			"engineer":        {db.CertificateFilter{Engineer: "sand"}, 3},
			"another one":     {db.CertificateFilter{Engineer: "reed"}, 0},
			"from":            {db.CertificateFilter{From: &later}, 0},
			"to":              {db.CertificateFilter{To: &later}, 3},
			"valid":           {db.CertificateFilter{Status: "valid"}, 1},
			"superseded":      {db.CertificateFilter{Status: "superseded"}, 1},
			"withdrawn":       {db.CertificateFilter{Status: "withdrawn"}, 1},
			"expired":         {db.CertificateFilter{Status: "expired"}, 0},
			"the second page": {db.CertificateFilter{Limit: 2, Offset: 2}, 1},
			"a quote":         {db.CertificateFilter{Unit: "' or true --"}, 0},
		} {
			found, err := w.db.Certificates(ctx, w.quality, c.filter, at(60))
			if err != nil || len(found) != c.want {
				t.Errorf("%s: found %d, want %d: %v", name, len(found), c.want, err)
			}
		}
	})
	t.Run("every act is on record", func(t *testing.T) {
		acts, err := w.db.Acts(ctx, w.quality, db.ActFilter{Unit: "U-1"})
		must(t, err)
		if len(acts) != 8 || acts[0].Act != "certificate withdrawn" || acts[0].Name != "Keiko Lund" || acts[0].Detail != "wrong ink lot" {
			t.Errorf("got %d: %+v", len(acts), acts[0])
		}
	})
}
