package act

import (
	"context"
	"slices"
	"strings"
	"time"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/rules"
)

// Countersign releases a submitted run and gives the certificate's number. From
// its commit on the certificate exists; Issue makes the file.
//
// Supervisors of the site may who recorded nothing in the run and have read the
// print sample for themselves; when their reading differs from the engineer's,
// mismatchReason says why it is released nevertheless and is signed with the
// head. The run is judged again
// at the instant of submission and must be releasable. It is a Conflict when
// the run moved since the signer's page was made.
func (a *Acts) Countersign(ctx context.Context, p commissioning.Person, run commissioning.RunID, s Signing, mismatchReason string, now time.Time) (commissioning.CertificateNumber, error) {
	if s.Nonce == "" {
		return "", problem.On("nonce", "The form was not complete. Load the page again.")
	}
	proof, err := a.prove(ctx, p, s.Proof, content{auth.Typed(s.Head, mismatchReason), s.Nonce}, now)
	if err != nil {
		return "", err
	}
	c := countersigning{acts: a, person: p, signing: s, proof: proof, reason: strings.TrimSpace(mismatchReason), at: moment(now)}
	var number commissioning.CertificateNumber
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		signed, err := tx.SignedWith(ctx, s.Nonce)
		if err != nil || signed != nil {
			if signed != nil {
				number = signed.Certificate
			}
			return again(signed, err, run, p.ID, commissioning.Countersignature)
		}
		if err := proof.spend(ctx, tx, c.at); err != nil {
			return err
		}
		book, err := lockLogbook(ctx, tx, p, run)
		if err != nil {
			return err
		}
		number, err = c.release(ctx, tx, book)
		return err
	})
	if err != nil {
		return "", err
	}
	return number, nil
}

// countersigning is one countersignature on its way.
type countersigning struct {
	acts    *Acts
	person  commissioning.Person
	signing Signing
	proof   proven
	reason  string
	at      time.Time
}

// release checks everything and issues the certificate.
func (c countersigning) release(ctx context.Context, tx *db.Tx, book db.Book) (commissioning.CertificateNumber, error) {
	if err := book.Run.CountersignableBy(c.person, book.Contributors); err != nil {
		return "", err
	}
	if err := whole(book); err != nil {
		return "", err
	}
	if err := unmoved(book.Run, c.signing.Head); err != nil {
		return "", err
	}
	submitted := book.Submission().SignedAt
	exam := rules.Examine(book.Logbook(submitted), submitted)
	if exam.Assessment.Verdict != rules.Releasable {
		return "", problem.New(problem.Conflict, "The run can't be released: rule on what needs a decision first, or return it with a reason.")
	}
	signature, err := c.signature(ctx, tx, book, exam)
	if err != nil {
		return "", err
	}
	release, err := c.compose(ctx, tx, book, exam, signature)
	if err != nil {
		return "", err
	}
	signing := c.signing.over(book.Run.ID, c.proof, commissioning.MeaningCountersign, c.at, rules.Encode(exam.Assessment))
	if err := tx.Countersign(ctx, signing, release); err != nil {
		return "", err
	}
	return release.Number, tx.Enqueue(ctx, IssueJob{Number: release.Number})
}

// signature compares the two readings of the print sample.
func (c countersigning) signature(ctx context.Context, tx *db.Tx, book db.Book, exam rules.Examination) (commissioning.Signature, error) {
	signer, err := tx.Person(ctx, c.person.ID)
	if err != nil {
		return commissioning.Signature{}, err
	}
	s := commissioning.Signature{
		Run: book.Run.ID, Round: book.Run.Round, Kind: commissioning.Countersignature, Person: signer.ID, Name: signer.Name,
		Role: commissioning.Supervisor, Meaning: commissioning.MeaningCountersign, Method: c.proof.method, SignedAt: c.at,
		Head: book.Run.Head, Agrees: true, Passkey: c.proof.assertion,
	}
	engineers, asked := sampleReading(exam)
	if !asked {
		return s, c.unasked()
	}
	if book.SampleReading == nil {
		return s, problem.New(problem.Conflict, "Read the code off the photo of the print sample and type it first.")
	}
	s.Reading = book.SampleReading.Text
	s.Agrees = commissioning.SameReading(s.Reading, engineers)
	if s.Agrees {
		return s, c.unasked()
	}
	if c.reason == "" {
		return s, problem.On("mismatch", "Your reading of the print sample differs from the engineer's. Return the run, or give the reason; the certificate shows it.")
	}
	s.Mismatch = c.reason
	return s, nil
}

// unasked refuses a reason where none is asked for: it would be signed, and
// nothing would show it.
func (c countersigning) unasked() error {
	if c.reason == "" {
		return nil
	}
	return problem.New(problem.Conflict, "The readings of the print sample agree, so there is no reason to give. Load the page again, then sign.")
}

// sampleReading is what the engineer typed last, and whether it is asked for. A
// sample that was rightly left out is not asked for.
func sampleReading(exam rules.Examination) (text string, asked bool) {
	for _, state := range exam.Steps {
		if state.Step.Ask != commissioning.AskSample {
			continue
		}
		for _, answer := range state.Answers {
			if answer.Kind == commissioning.KindStep && answer.Outcome == commissioning.Done {
				text, asked = answer.Text, true
			}
		}
	}
	return text, asked
}

// compose says all that the certificate will say.
func (c countersigning) compose(ctx context.Context, tx *db.Tx, book db.Book, exam rules.Examination, own commissioning.Signature) (db.Release, error) {
	number, err := tx.NextCertificate(ctx)
	if err != nil {
		return db.Release{}, err
	}
	supersedes, err := tx.Standing(ctx, book.Run.Unit)
	if err != nil {
		return db.Release{}, err
	}
	submission := *book.Submission()
	release := db.Release{
		Number: number, Agrees: own.Agrees, Mismatch: own.Mismatch, Line: book.Unit.Line, Lots: lots(exam),
	}
	if valid := book.Procedure.ValidFor.D; valid > 0 {
		until := c.at.Add(valid)
		release.ValidUntil = &until
	}
	source := certificate.Source{
		Number: number, Run: book.Run, Unit: book.Unit, Site: book.Site,
		Procedure: certificate.Approval{
			YAML: book.Procedure.YAML, SHA256: book.Procedure.SHA256, ApprovedBy: book.Procedure.ApprovedBy, ApprovedAt: book.Procedure.ApprovedAt,
		},
		Logbook: book.Logbook(submission.SignedAt), Opening: book.Opening, Posts: book.Posts, Exam: exam, Signatures: []commissioning.Signature{submission, own},
		Names: book.Names, ReleasedAt: c.at, ValidUntil: release.ValidUntil, Supersedes: supersedes, VerifyURL: c.acts.VerifyURL,
		Signer: c.acts.Signers.Current(),
	}
	for _, r := range book.Returns {
		source.Returns = append(source.Returns, certificate.Return{Round: r.Round, By: r.Name, At: r.At, Reason: r.Reason})
	}
	for _, p := range book.Photos {
		source.Photos = append(source.Photos, certificate.Photo{SHA256: p.SHA256, Width: p.Width, Height: p.Height})
	}
	document, err := certificate.Compose(source)
	if err != nil {
		return db.Release{}, err
	}
	release.Document, err = document.Encode()
	return release, err
}

// lots gives the lot of every container that was put in, each once.
func lots(exam rules.Examination) []string {
	all := []string{}
	for _, load := range exam.Loads {
		if lot := load.Entry.Lot; lot != nil && *lot != "" && !slices.Contains(all, *lot) {
			all = append(all, *lot)
		}
	}
	return all
}
