package act

import (
	"context"
	"errors"
	"time"

	"settlemark/db"
)

// AfterRestore compares a database that was just restored with what the log's
// key on this machine has signed. Where the key signed what the database does
// not hold, or nothing lies beside the key to tell, sealing stops until NewEpoch
// or until the newest checkpoint is put beside the key. It gives the reason in a
// sentence, "" when sealing goes on or this machine does not seal.
func (a *Acts) AfterRestore(ctx context.Context, now time.Time) (string, error) {
	state, err := a.db.LogState(ctx)
	if err != nil || state.Origin == "" {
		return "", err
	}
	s := sealing{acts: a, origin: state.Origin, at: moment(now)}
	if s.keys, err = s.ownKeys(); err == nil && s.keys != nil {
		err = a.db.InTx(ctx, func(tx *db.Tx) error {
			head, err := tx.LockLog(ctx)
			if err != nil || head == nil {
				return err
			}
			return s.continues(ctx, tx, tx.LogTree(ctx, head.Epoch, head.Size), *head)
		})
	}
	var why *stopError
	if !errors.As(err, &why) {
		return "", err
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error { return tx.StopLog(ctx, state.Epoch, why.why, s.at) })
	return "Sealing stopped: " + why.why, err
}
