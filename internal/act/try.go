package act

import (
	"context"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// tryEvery is how often a person may try one way of being told.
const tryEvery = time.Minute

// MayTry counts that a person tries a way of being told, such as their address,
// and refuses it when the last time was just now.
func (a *Acts) MayTry(ctx context.Context, p commissioning.Person, way string, now time.Time) error {
	var wait time.Duration
	err := a.db.InTx(ctx, func(tx *db.Tx) (err error) {
		wait, err = tx.TryAddress(ctx, "try "+way+" "+string(p.ID), 1, tryEvery, moment(now))
		return err
	})
	if err == nil && wait > 0 {
		return tooMany(words.Say("You tried it just now."), wait)
	}
	return err
}
