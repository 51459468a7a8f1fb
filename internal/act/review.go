package act

import (
	"context"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// ReadSample keeps what a supervisor read off the photo of the print sample,
// before anything that the engineer typed about it is shown. The first reading
// of a round counts; another one is a Conflict.
func (a *Acts) ReadSample(ctx context.Context, p commissioning.Person, run commissioning.RunID, text string, now time.Time) error {
	text, err := required("text", text, "Type the code as you read it on the photo.")
	if err != nil {
		return err
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		if err := lockRun(ctx, tx, p, run); err != nil {
			return err
		}
		return tx.ReadSample(ctx, run, p.ID, text, moment(now))
	})
}

// Rule records a supervisor's disposition of an entry, while the run is open or
// submitted. Supervisors of the site may, but not on work of their own. It is a
// Conflict when the run moved since the supervisor's page was made.
func (a *Acts) Rule(ctx context.Context, p commissioning.Person, run commissioning.RunID, head []byte, e commissioning.Entry, now time.Time) (Recorded, error) {
	if e.Kind != commissioning.KindDisposition {
		return Recorded{}, problem.On("kind", "Only a ruling on an entry can be given here.")
	}
	return a.record(ctx, Author{Person: p, Form: true}, run, []commissioning.Entry{e}, now, func(r commissioning.Run) error {
		return unmoved(r, head)
	})
}

// Return sends a submitted run back to the engineer with a reason. The run is
// open again in the next round, and the signatures of this one are void.
// Supervisors of the site may, but not on work of their own.
func (a *Acts) Return(ctx context.Context, p commissioning.Person, run commissioning.RunID, head []byte, reason string, now time.Time) error {
	reason, err := required("reason", reason, "Say what has to be done again; the engineer reads it first.")
	if err != nil {
		return err
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		if err := lockRun(ctx, tx, p, run); err != nil {
			return err
		}
		return tx.Return(ctx, run, p.ID, head, reason, moment(now))
	})
}
