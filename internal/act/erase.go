package act

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// Erasure is a name that is to go, why, and who wants it: an administrator and
// somebody of quality, by their logins.
type Erasure struct {
	Person                 commissioning.PersonID
	Administrator, Quality string
	Reason                 string
}

// EraseName erases name, login and proofs of identity of somebody who left. Printed
// names of the record stay. Nobody proves who they are, so only the machine itself
// may call it.
func (a *Acts) EraseName(ctx context.Context, e Erasure, now time.Time) error {
	if strings.TrimSpace(e.Reason) == "" {
		return problem.New(problem.Invalid, "Give the reason. It stands in the trail; do not write the name into it.")
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		admin, err := administrator(ctx, tx, e.Administrator)
		if err != nil {
			return err
		}
		quality, err := holder(ctx, tx, e.Quality, commissioning.Quality)
		if err != nil {
			return err
		}
		if quality == "" || quality == admin {
			return problem.New(problem.NotFound, "Nobody of quality but the administrator has the login %q. Give that of somebody else.", e.Quality)
		}
		erased, err := tx.ErasePerson(ctx, e.Person, moment(now))
		if err != nil {
			return err
		}
		if !erased {
			return problem.New(problem.Conflict, "%s is not erased: there is no such code, the access has not ended, a run with work of theirs goes on, or it was done before.", string(e.Person))
		}
		n := db.Note{Key: uuid.NewString(), Act: "name erased", By: admin, Subject: string(e.Person), Detail: "agreed by " + string(quality) + ": " + e.Reason}
		return tx.Note(ctx, n, moment(now))
	})
}
