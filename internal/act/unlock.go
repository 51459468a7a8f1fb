package act

import (
	"context"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Unlocking is how a person shows that they are still the one at the screen:
// one of password, code and passkey. It opens what they had open, and signs
// nothing.
type Unlocking struct {
	Secret    string // password, code of the authenticator app, or recovery code
	Passkey   *commissioning.Assertion
	Challenge []byte // for the passkey
	Address   string
}

// Unlock says whether the person is there. Guessing is slowed down as at
// sign-in, and wrong ones count with those at signatures.
func (a *Acts) Unlock(ctx context.Context, p commissioning.Person, u Unlocking, now time.Time) error {
	if u.Passkey == nil && u.Secret == "" {
		return problem.On("unlock_password", "Type your password, or the code that your authenticator app shows.")
	}
	if err := a.takeTurn(ctx, p.Login, u.Address, moment(now)); err != nil {
		return err
	}
	c, err := a.db.CredentialOf(ctx, p.ID)
	if err != nil {
		return err
	}
	if c.WrongProofs >= auth.WrongProofs {
		return sessionOver()
	}
	spend, wrong, err := a.there(ctx, c, u, now)
	if err != nil {
		return err
	}
	if wrong != nil {
		return a.counted(ctx, p.ID, wrong, now)
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		if spend != nil {
			if err := spend(tx); err != nil {
				return err
			}
		}
		if err := tx.ForgetTries(ctx, accountKey(p.Login), moment(now)); err != nil {
			return err
		}
		_, err := admitted(ctx, tx, p.ID, u.Address)
		return err
	})
}

// there compares, and gives what is spent when it was right.
func (a *Acts) there(ctx context.Context, c db.Credential, u Unlocking, now time.Time) (spend func(*db.Tx) error, wrong, err error) {
	if u.Passkey != nil {
		said, _, err := a.passkeyAnswer(ctx, *u.Passkey, c.Person, func(said commissioning.Assertion) error {
			return auth.CheckAnswer(said, u.Challenge, said.RP)
		})
		if problem.KindOf(err) == problem.Invalid {
			return nil, err, nil
		}
		if err != nil {
			return nil, nil, err
		}
		count, err := auth.Counter(said)
		return func(tx *db.Tx) error { return usePasskey(ctx, tx, said, c.Person, count, moment(now)) }, nil, err
	}
	right, err := a.hasher.Verify(ctx, c.Password, u.Secret)
	if err != nil || right {
		return nil, nil, err
	}
	code, err := a.checkCode(ctx, c, u.Secret, now)
	if err != nil {
		return nil, nil, err
	}
	if code == nil {
		return nil, &problem.Error{
			Kind: problem.Invalid, Field: "unlock_password", Cause: errWrongProof,
			Sentence: words.Say("That is neither your password nor a code of yours. Type it again."),
		}, nil
	}
	code.content = content{auth.ContentHash("unlock/1", string(c.Person)), uuid.NewString()}
	return func(tx *db.Tx) error { return code.spend(ctx, tx, moment(now)) }, nil, nil
}
