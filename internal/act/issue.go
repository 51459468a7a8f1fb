package act

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"time"

	"settlemark/db"
	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
)

// Issue makes the file of a release from its stored document and its place in
// the log, signs it with the key that the document names, reads it back, and
// keeps it where none is kept. Doing it twice is the same as once: the first
// file kept is served for ever, though no two signatures are alike.
//
// It is Busy until the release is sealed: try again in a moment, as the job does.
func (a *Acts) Issue(ctx context.Context, number commissioning.CertificateNumber) error {
	stored, err := a.db.Document(ctx, number)
	if err != nil {
		return err
	}
	document, err := certificate.Decode(stored)
	if err != nil {
		return err
	}
	proof, err := a.certificateProof(ctx, number)
	if err != nil {
		return err
	}
	photos, err := a.db.DocumentPhotos(ctx, number)
	if err != nil {
		return err
	}
	pdf, err := certificate.Render(document, photos, proof)
	if err != nil {
		return fmt.Errorf("certificate %s: %w", number, err)
	}
	if pdf, err = a.sign(pdf, document.Signer); err != nil {
		return fmt.Errorf("certificate %s: %w", number, err)
	}
	if err := readBack(pdf, stored, document); err != nil {
		return fmt.Errorf("certificate %s: %w", number, err)
	}
	if proof != nil {
		if err := a.verify(ctx, pdf, document); err != nil {
			return fmt.Errorf("certificate %s: %w", number, err)
		}
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error { return tx.StorePDF(ctx, number, pdf) })
}

// certificateProof shows where the release stands in the log; nil when neither
// this process nor another one keeps a log.
func (a *Acts) certificateProof(ctx context.Context, number commissioning.CertificateNumber) ([]byte, error) {
	proof, err := a.db.CertificateProof(ctx, number)
	if problem.KindOf(err) != problem.Busy || a.Log.Key != "" {
		return proof, err
	}
	state, stateErr := a.db.LogState(ctx)
	if stateErr == nil && state.Origin == "" {
		return nil, nil
	}
	return nil, errors.Join(err, stateErr)
}

// sign signs with the key of that fingerprint; a document that names none was
// released by a program without a key, and its file stays unsigned.
func (a *Acts) sign(pdf []byte, fingerprint string) ([]byte, error) {
	if fingerprint == "" {
		return pdf, nil
	}
	signer, ok := a.Signers.By(fingerprint)
	if !ok {
		return nil, fmt.Errorf("the site key %s that it names is not in the folder of keys: put its file back", fingerprint)
	}
	return signer.Sign(pdf)
}

// readBack reads the finished file as a stranger would and compares its
// evidence with the record, so that no file is kept which can't be checked.
func readBack(pdf, record []byte, document certificate.Document) error {
	contents, err := certificate.Read(pdf)
	if err != nil {
		return fmt.Errorf("reading it back: %w", err)
	}
	if !bytes.Equal(contents.Record, record) || contents.Number != document.Number {
		return errors.New("its record came back changed")
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
	signer, err := certificate.SignedBy(pdf)
	if err != nil {
		return fmt.Errorf("reading its signature back: %w", err)
	}
	if signer != document.Signer {
		return fmt.Errorf("it came back signed by %q, not by the key %q that it names", signer, document.Signer)
	}
	return nil
}

// verify checks the finished file as a stranger with the site's policy would,
// so that no file is kept which somebody else finds wanting.
func (a *Acts) verify(ctx context.Context, pdf []byte, document certificate.Document) error {
	text, err := a.LogPolicy(ctx)
	if err != nil {
		return err
	}
	policy, err := ledger.ReadPolicy([]byte(text))
	if err != nil {
		return err
	}
	released, err := time.Parse(time.RFC3339, document.ReleasedAt)
	if err != nil {
		return err
	}
	report := certificate.Trust{Policy: policy, Now: released, Passkey: CheckPasskey}.Verify(pdf)
	if report.Verdict == certificate.Altered || report.Verdict == certificate.NotOurs {
		return fmt.Errorf("verifying it: %s", report.Text())
	}
	return nil
}
