package act

import (
	"context"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// byPassword is how an identity was proven, as signatures print it.
const byPassword = "password"

// prove asks for the person's password again, whatever the session says. After
// five wrong ones in a row nothing is tried until the person has signed in anew.
func (a *Acts) prove(ctx context.Context, p commissioning.Person, password string) error {
	c, err := a.db.CredentialOf(ctx, p.ID)
	if err != nil {
		return err
	}
	if c.WrongProofs >= auth.WrongProofs {
		return sessionOver()
	}
	right, err := a.hasher.Verify(ctx, c.Password, password)
	if err != nil {
		return err
	}
	var wrong int
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		wrong, err = tx.CountProof(ctx, p.ID, right)
		return err
	})
	switch {
	case err != nil || right:
		return err
	case wrong >= auth.WrongProofs:
		a.log.WarnContext(ctx, "too many wrong proofs at a signature", "person", p.ID)
		return sessionOver()
	}
	a.log.WarnContext(ctx, "wrong proof at a signature", "person", p.ID, "in_a_row", wrong)
	return problem.On("password", "That is not your password. Nothing was signed; type it again.")
}

func sessionOver() error {
	return &problem.Error{
		Kind: problem.Forbidden, Cause: ErrSessionOver,
		Sentence: "The password was wrong five times in a row. You are signed out; sign in again to sign.",
	}
}
