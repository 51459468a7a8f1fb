package act

import (
	"bytes"
	"context"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/rules"
)

// Submit signs the run as the engineer who holds the pen and closes it. The
// run is judged at this instant; the assessment is stored with the signature.
//
// It is a Conflict when the run moved since the signer's page was made, and
// while the verdict is not_yet. A run that is blocked may be submitted, for a
// supervisor to rule on.
func (a *Acts) Submit(ctx context.Context, p commissioning.Person, run commissioning.RunID, s Signing, now time.Time) error {
	if s.Nonce == "" {
		return problem.On("nonce", "The form was not complete. Load the page again.")
	}
	proof, err := a.prove(ctx, p, s.Proof, content{s.Head, s.Nonce}, now)
	if err != nil {
		return err
	}
	at := moment(now)
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		if signed, err := tx.SignedWith(ctx, s.Nonce); err != nil || signed != nil {
			return again(signed, err, run, p.ID, commissioning.Submission)
		}
		if err := proof.spend(ctx, tx, at); err != nil {
			return err
		}
		book, err := lockLogbook(ctx, tx, p, run)
		if err != nil {
			return err
		}
		if err := submittable(book, p, s.Head); err != nil {
			return err
		}
		assessment := rules.Judge(book.Logbook(at), at)
		if assessment.Verdict == rules.NotYet {
			return notYet(assessment)
		}
		if err := tx.Submit(ctx, s.over(run, proof, commissioning.MeaningSubmit, at, rules.Encode(assessment))); err != nil {
			return err
		}
		return tx.Enqueue(ctx, LookJob{Run: run})
	})
}

func submittable(book db.Book, p commissioning.Person, head []byte) error {
	r := book.Run
	if err := commissioning.SubmitRun.On(commissioning.Situation{Person: p, Run: r}); err != nil {
		return err
	}
	if err := whole(book); err != nil {
		return err
	}
	return unmoved(r, head)
}

// whole refuses to sign on top of a record that was changed under the app.
func whole(b db.Book) error {
	if len(b.Changed) == 0 {
		return nil
	}
	return problem.New(problem.Conflict, "The record of run %s has been changed since it was stored. Nothing can be signed on top of it; tell quality.", b.Run.Number)
}

// unmoved refuses a signature over anything but what the signer was shown.
func unmoved(r commissioning.Run, head []byte) error {
	if bytes.Equal(r.Head, head) {
		return nil
	}
	return problem.New(problem.Conflict, "Run %s has changed since your page was made. Look at it again, then sign.", r.Number)
}

// notYet names the first thing that is open.
func notYet(a rules.Assessment) error {
	for _, gate := range []rules.Finding{a.Steps.Finding, a.Fluids.Finding, a.Faults.Finding, a.Viscosity.Finding, a.Hold.Finding} {
		if gate.Verdict == rules.Pending && len(gate.Reasons) > 0 {
			return problem.New(problem.Conflict, "The run can't be submitted yet: %s.", gate.Reasons[0].Text)
		}
	}
	return problem.New(problem.Conflict, "The run can't be submitted yet. Look at what is still open.")
}

// again answers a form that was sent twice.
func again(signed *db.Signed, err error, run commissioning.RunID, p commissioning.PersonID, kind commissioning.SignatureKind) error {
	if err != nil {
		return err
	}
	if signed.Run != run || signed.Person != p || signed.Kind != kind {
		return problem.On("nonce", "This form was used for another signature. Load the page again.")
	}
	return nil
}

// over makes the signature of the form over a judgement.
func (s Signing) over(run commissioning.RunID, by proven, meaning string, at time.Time, assessment []byte) db.Signing {
	return db.Signing{
		Run: run, Person: by.person, Head: s.Head, Meaning: meaning, Method: by.method, Nonce: s.Nonce,
		SignedAt: at, Assessment: assessment,
	}
}
