package act

import (
	"context"
	"fmt"
	"time"

	"settlemark/db"
	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
)

// Issue makes the file of a release from its stored document, reads it back,
// and keeps it where none is kept. Doing it twice is the same as once.
func (a *Acts) Issue(ctx context.Context, number commissioning.CertificateNumber) error {
	stored, err := a.db.Document(ctx, number)
	if err != nil {
		return err
	}
	document, err := certificate.Decode(stored)
	if err != nil {
		return err
	}
	photos, err := a.db.DocumentPhotos(ctx, number)
	if err != nil {
		return err
	}
	pdf, err := certificate.Render(document, photos)
	if err != nil {
		return fmt.Errorf("certificate %s: %w", number, err)
	}
	if err := readBack(pdf, document); err != nil {
		return fmt.Errorf("certificate %s: %w", number, err)
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error { return tx.StorePDF(ctx, number, pdf) })
}

// readBack reads the finished file as a stranger would and compares its
// evidence with the document, so that no file is kept which can't be checked.
func readBack(pdf []byte, document certificate.Document) error {
	contents, err := certificate.Read(pdf)
	if err != nil {
		return fmt.Errorf("reading it back: %w", err)
	}
	found := map[string]string{
		certificate.LogbookName:    string(contents.Logbook),
		certificate.AssessmentName: string(contents.Assessment),
	}
	for _, attached := range document.Attached {
		if found[attached.Name] != attached.Text {
			return fmt.Errorf("the attachment %s came back changed", attached.Name)
		}
	}
	if contents.Number != document.Number {
		return fmt.Errorf("the number came back as %q", contents.Number)
	}
	return nil
}

// Withdraw withdraws a certificate with a reason. Quality may. The file stays
// as it was issued; every later look shows the withdrawal.
func (a *Acts) Withdraw(ctx context.Context, p commissioning.Person, number commissioning.CertificateNumber, reason string, now time.Time) error {
	if err := p.May(commissioning.Withdraw, 0); err != nil {
		return err
	}
	reason, err := required("reason", reason, "Say why the certificate is withdrawn; everybody who looks it up reads it.")
	if err != nil {
		return err
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error { return tx.Withdraw(ctx, number, p.ID, reason, moment(now)) })
}
