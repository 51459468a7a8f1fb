package act

import (
	"context"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// VoidSecrets is for when the key file is lost for good: every password and
// authenticator app that was made with it is void, everybody is signed out, and
// one administrator gets a one-time code to begin anew with. Passkeys, recovery
// codes and all that was signed stay. It gives whom it concerns; nobody does it,
// so only the machine itself may call it.
func (a *Acts) VoidSecrets(ctx context.Context, login string, now time.Time) (concerned []commissioning.PersonID, code string, err error) {
	code = auth.NewCode()
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		admin, err := administrator(ctx, tx, login)
		if err != nil {
			return err
		}
		if concerned, err = tx.VoidSealed(ctx); err != nil {
			return err
		}
		for _, id := range concerned {
			n := db.Note{Key: uuid.NewString(), Act: "key file replaced", Subject: string(id), Detail: "password and authenticator app are void"}
			if err := tx.Note(ctx, n, moment(now)); err != nil {
				return err
			}
		}
		if err := tx.EndAllSessions(ctx); err != nil {
			return err
		}
		n := db.Note{Key: uuid.NewString(), Act: "invite made", Subject: string(admin), Detail: "on the server, for a new password and second factor"}
		if err := tx.Note(ctx, n, moment(now)); err != nil {
			return err
		}
		return tx.Invite(ctx, newInvite(code, admin, ResetBoth, now), moment(now))
	})
	return concerned, code, err
}

// administrator finds one by login.
func administrator(ctx context.Context, tx *db.Tx, login string) (commissioning.PersonID, error) {
	id, err := holder(ctx, tx, login, commissioning.Administrator)
	if id == "" && err == nil {
		err = problem.New(problem.NotFound, "No administrator has the login %q. Give that of one.", login)
	}
	return id, err
}

// holder finds who has the login and the role, "" when nobody has both.
func holder(ctx context.Context, tx *db.Tx, login string, role commissioning.Role) (commissioning.PersonID, error) {
	c, err := tx.CredentialFor(ctx, login)
	if problem.KindOf(err) == problem.NotFound {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	p, err := tx.Person(ctx, c.Person)
	if err != nil || p.DisabledAt != nil || !p.Holds(role) {
		return "", err
	}
	return p.ID, nil
}
