package act

import (
	"context"
	"encoding/base64"
	"errors"
	"time"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// recoveryCodes is how many a person is given, once.
const recoveryCodes = 10

// FactorsContent is what the proof of a change of one's own proofs is bound to.
func FactorsContent(id commissioning.PersonID) []byte {
	return auth.ContentHash("factors/1", string(id))
}

// OfferApp gives the seed for an authenticator app that the person is to set
// up: the one given, or the one that was offered before. It is in use only once
// AddApp was given its first code.
func (a *Acts) OfferApp(ctx context.Context, p commissioning.Person, seed []byte) (offered []byte, err error) {
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		sealed, err := tx.OfferSeed(ctx, p.ID, a.secrets.Seal(seed, string(p.ID)))
		if err != nil {
			return err
		}
		offered, err = a.secrets.Open(sealed, string(p.ID))
		return err
	})
	return offered, err
}

// AddApp puts the offered authenticator app to use, in place of one before it,
// when its first code is right. Recovery codes are given with a person's first
// second factor; they are shown once.
func (a *Acts) AddApp(ctx context.Context, p commissioning.Person, s Signing, first string, now time.Time) (recovery []string, err error) {
	err = a.ownChange(ctx, p, s, now, func(tx *db.Tx, c db.Credential) (string, string, error) {
		sealed, err := tx.OfferedSeed(ctx, p.ID)
		if problem.KindOf(err) == problem.NotFound {
			return "", "", problem.New(problem.Conflict, "This was done, or the page is old. Load the page again.")
		}
		if err != nil {
			return "", "", err
		}
		seed, err := a.secrets.Open(sealed, string(p.ID))
		if err != nil {
			return "", "", err
		}
		step, right := auth.Match(seed, first, now)
		if !right {
			return "", "", problem.On("first", "This is not the code of the app. Type the six digits that it shows now; if they are refused again, see that its clock is right.")
		}
		if err := tx.TakeSeed(ctx, p.ID, step); err != nil {
			return "", "", err
		}
		recovery, err = firstRecovery(ctx, tx, c)
		return "authenticator app added", "", err
	})
	return recovery, err
}

// AddPasskey keeps a passkey that the person's device has just made for the
// challenge on the site rp.
func (a *Acts) AddPasskey(ctx context.Context, p commissioning.Person, s Signing, name, made string, challenge []byte, rp string, now time.Time) (recovery []string, err error) {
	if name, err = required("name", name, "Give the passkey a name, such as that of the device it is on."); err != nil {
		return nil, err
	}
	key, err := auth.Register(made, challenge, rp)
	if err != nil {
		return nil, &problem.Error{
			Kind: problem.Invalid, Field: "passkey", Cause: err,
			Sentence: words.Say("The device made no passkey that can be used here. It must ask for a fingerprint, face or PIN; try again."),
		}
	}
	row := db.PasskeyRow{ID: key.ID, Person: p.ID, Name: name, PublicKey: key.PublicKey, RP: key.RP, Count: key.Count}
	err = a.ownChange(ctx, p, s, now, func(tx *db.Tx, c db.Credential) (string, string, error) {
		if err := tx.AddPasskey(ctx, row, moment(now)); err != nil {
			return "", "", err
		}
		recovery, err = firstRecovery(ctx, tx, c)
		return "passkey added", name, err
	})
	return recovery, err
}

// RemovePasskey takes a passkey away. The last second factor stays.
func (a *Acts) RemovePasskey(ctx context.Context, p commissioning.Person, s Signing, credential string, now time.Time) error {
	id, err := base64.RawURLEncoding.DecodeString(credential)
	if err != nil {
		return problem.New(problem.NotFound, "There is no such passkey. Load the page again.")
	}
	return a.ownChange(ctx, p, s, now, func(tx *db.Tx, c db.Credential) (string, string, error) {
		if len(c.Seed) == 0 && c.Passkeys < 2 {
			return "", "", lastFactor()
		}
		found, err := tx.RemovePasskey(ctx, id, p.ID)
		if err == nil && !found {
			err = problem.New(problem.NotFound, "There is no such passkey. Load the page again.")
		}
		return "passkey removed", "", err
	})
}

// RemoveApp makes the person's authenticator app worthless here. The last
// second factor stays.
func (a *Acts) RemoveApp(ctx context.Context, p commissioning.Person, s Signing, now time.Time) error {
	return a.ownChange(ctx, p, s, now, func(tx *db.Tx, c db.Credential) (string, string, error) {
		if c.Passkeys == 0 {
			return "", "", lastFactor()
		}
		return "authenticator app removed", "", tx.DropSeed(ctx, p.ID)
	})
}

// NewRecovery gives new recovery codes; those before are void.
func (a *Acts) NewRecovery(ctx context.Context, p commissioning.Person, s Signing, now time.Time) (recovery []string, err error) {
	err = a.ownChange(ctx, p, s, now, func(tx *db.Tx, _ db.Credential) (string, string, error) {
		recovery, err = newRecovery(ctx, tx, p.ID)
		return "recovery codes made", "", err
	})
	return recovery, err
}

// ChangePassword sets another password of one's own and ends every session that
// began with the one before.
func (a *Acts) ChangePassword(ctx context.Context, p commissioning.Person, s Signing, password string, now time.Time) error {
	if err := auth.Acceptable(password, p.Login, p.Name); err != nil {
		var refusal *problem.Error
		if errors.As(err, &refusal) {
			refusal.Field = "new_password"
		}
		return err
	}
	phc, err := a.hasher.Hash(ctx, password)
	if err != nil {
		return err
	}
	return a.ownChange(ctx, p, s, now, func(tx *db.Tx, _ db.Credential) (string, string, error) {
		if err := tx.SetPassword(ctx, p.ID, phc); err != nil {
			return "", "", err
		}
		return "password changed", "", tx.EndSessions(ctx, p.ID)
	})
}

// ownChange does something to a person's own proofs of identity, after the proof
// that they have now, and writes the act.
func (a *Acts) ownChange(ctx context.Context, p commissioning.Person, s Signing, now time.Time, do func(tx *db.Tx, c db.Credential) (act, detail string, err error)) error {
	proof, err := a.proveOwn(ctx, p, s, now)
	if err != nil {
		return err
	}
	return a.note(ctx, p.ID, now, func(tx *db.Tx) (db.Note, error) {
		c, err := tx.Credential(ctx, p.ID)
		if err != nil {
			return db.Note{}, err
		}
		if c.Factored() {
			if err := proof.spend(ctx, tx, moment(now)); err != nil {
				return db.Note{}, err
			}
		}
		act, detail, err := do(tx, c)
		return db.Note{Act: act, Subject: string(p.ID), Detail: detail}, err
	})
}

// proveOwn asks for all proofs that the person has: before the first second
// factor that is the password.
func (a *Acts) proveOwn(ctx context.Context, p commissioning.Person, s Signing, now time.Time) (proven, error) {
	c, err := a.db.CredentialOf(ctx, p.ID)
	if err != nil || c.Factored() {
		if err != nil {
			return proven{}, err
		}
		return a.prove(ctx, p, s.Proof, content{FactorsContent(p.ID), s.Nonce}, now)
	}
	if c.WrongProofs >= auth.WrongProofs {
		return proven{}, sessionOver()
	}
	right, err := a.hasher.Verify(ctx, c.Password, s.Proof.Password)
	if err != nil {
		return proven{}, err
	}
	var wrong error
	if !right {
		wrong = &problem.Error{
			Kind: problem.Invalid, Field: "password", Cause: errWrongProof,
			Sentence: words.Say("That is not your password. Type it again."),
		}
	}
	return proven{person: p.ID}, a.counted(ctx, p.ID, wrong, now)
}

// firstRecovery gives recovery codes with the first second factor, else none.
func firstRecovery(ctx context.Context, tx *db.Tx, before db.Credential) ([]string, error) {
	if before.Factored() {
		return nil, nil
	}
	codes, err := newRecovery(ctx, tx, before.Person)
	if err != nil {
		return nil, err
	}
	return codes, nil
}

func newRecovery(ctx context.Context, tx *db.Tx, id commissioning.PersonID) ([]string, error) {
	codes, hashes := make([]string, recoveryCodes), make([][]byte, recoveryCodes)
	for i := range codes {
		codes[i] = auth.NewCode()
		hashes[i] = auth.CodeHash(codes[i])
	}
	return codes, tx.SetRecovery(ctx, id, hashes)
}

func lastFactor() error {
	return problem.New(problem.Conflict, "This is your last second factor, and without one you can't sign. Add another one first.")
}
