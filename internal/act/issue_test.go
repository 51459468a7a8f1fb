package act_test

import (
	"bytes"
	"testing"

	"settlemark/internal/act"
	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
)

// countersigned is a release whose program died before it made the file.
func (w *world) countersigned(unit string) commissioning.CertificateNumber {
	w.t.Helper()
	r := w.submitted(unit)
	must(w.t, w.ReadSample(w.t.Context(), w.supervisor, r.ID, "l24o", at(50)))
	number, err := w.Countersign(w.t.Context(), w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", at(51))
	must(w.t, err)
	return number
}

// waits says whether the release has no file, and that pages know it.
func (w *world) waits(number commissioning.CertificateNumber) {
	w.t.Helper()
	missing, err := w.db.WithoutPDF(w.t.Context())
	must(w.t, err)
	if len(missing) != 1 || missing[0] != number {
		w.t.Fatalf("waiting: %v", missing)
	}
	_, _, err = w.db.CertificatePDF(w.t.Context(), w.quality, number)
	refused(w.t, err, problem.Busy)
}

// issued is the file of a release that is made by now.
func (w *world) issued(number commissioning.CertificateNumber) []byte {
	w.t.Helper()
	waiting, err := w.IssueMissing(w.t.Context())
	must(w.t, err)
	missing, err := w.db.WithoutPDF(w.t.Context())
	must(w.t, err)
	if waiting != 0 || len(missing) != 0 {
		w.t.Fatalf("still waiting: %d, %v", waiting, missing)
	}
	pdf, _, err := w.db.CertificatePDF(w.t.Context(), w.quality, number)
	must(w.t, err)
	return pdf
}

// A program that dies between any two steps of the release leaves a file that
// is made later, once.
func TestIssueLater(t *testing.T) {
	ctx := t.Context()
	t.Run("dead after the release, before the seal", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		number := w.countersigned("U-1")
		refused(t, w.Issue(ctx, number), problem.Busy)
		waiting, err := w.IssueMissing(ctx)
		must(t, err)
		if waiting != 1 {
			t.Errorf("%d wait for their seal", waiting)
		}
		w.waits(number)
		w.seal(evening)
		w.issued(number)
	})
	t.Run("dead after the seal, before the file is stored", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		number := w.countersigned("U-1")
		w.seal(evening)
		failing(t, w, "certificate_pdfs")
		if w.Issue(ctx, number) == nil {
			t.Error("issued though nothing can be stored")
		}
		w.waits(number)
		working(t, w, "certificate_pdfs")
		w.issued(number)
	})
	t.Run("dead after the file is stored", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		number := w.countersigned("U-1")
		w.seal(evening)
		must(t, w.Issue(ctx, number))
		before := w.issued(number)
		must(t, w.Issue(ctx, number))
		if after := w.issued(number); !bytes.Equal(before, after) {
			t.Error("the file changed")
		}
	})
	t.Run("its key was changed in between", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		number := w.countersigned("U-1")
		w.seal(evening)
		newer, err := certificate.NewSigner("north.example", morning)
		must(t, err)
		w.Signers = certificate.Signers{newer}
		if w.Issue(ctx, number) == nil {
			t.Error("signed by another key than the record names")
		}
		w.waits(number)
		w.Signers = certificate.Signers{newer, siteSigner}
		if by, err := certificate.SignedBy(w.issued(number)); err != nil || by != siteSigner.Fingerprint() {
			t.Errorf("signed by %s, %v", by, err)
		}
	})
}

// What is issued convinces somebody who has the policy and the file, no more.
func TestIssuedFileIsGenuine(t *testing.T) {
	w := newWorld(t)
	w.openLog()
	number := w.countersigned("U-1")
	w.seal(evening)
	pdf := w.issued(number)
	report := certificate.Trust{Policy: w.policy(), Now: evening, Passkey: act.CheckPasskey}.Verify(pdf)
	if report.Verdict != certificate.Unsettled { // no status list is at hand
		t.Error(report.Text())
	}
	if c, found := report.FirstNot(certificate.OK); !found || c.Name != "status" {
		t.Errorf("%+v", c)
	}
	contents, err := certificate.Read(pdf)
	must(t, err)
	stored, err := w.db.Document(t.Context(), number)
	must(t, err)
	proof, err := ledger.ReadProof(contents.Proof)
	must(t, err)
	if _, err := proof.Check(ledger.CertificateLeaf(string(number), stored), w.policy()); err != nil {
		t.Error(err)
	}
}
