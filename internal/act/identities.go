package act

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// LinkContent is what the proof that links an account to a person is bound to.
func LinkContent(id commissioning.PersonID, i commissioning.Identity) []byte {
	return auth.ContentHash("link/1", string(id), i.Issuer, i.Subject)
}

// UnlinkContent is what the proof that takes the account away again is bound to.
func UnlinkContent(id commissioning.PersonID, i commissioning.Identity) []byte {
	return auth.ContentHash("unlink/1", string(id), i.Issuer, i.Subject)
}

// SignInThrough gives the person whom the provider's account signs in. prove
// asks the provider, once it is this address's turn. Nobody is added and nobody
// is found by name or e-mail address: only who linked the account is let in.
func (a *Acts) SignInThrough(ctx context.Context, prove func(context.Context) (commissioning.Identity, error), address string, now time.Time) (p commissioning.Person, err error) {
	if err := a.takeAddress(ctx, address, moment(now)); err != nil {
		return p, err
	}
	i, err := prove(ctx)
	if err != nil {
		return p, err
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		id, err := tx.PersonOf(ctx, i)
		if problem.KindOf(err) == problem.NotFound {
			return problem.New(problem.Forbidden,
				"Nobody here has linked this account (%s). Sign in with login, password and code, then link it under Account.", i.Called)
		}
		if err != nil {
			return err
		}
		if p, err = admitted(ctx, tx, id, address); err == nil && p.DisabledAt != nil {
			err = problem.New(problem.Forbidden, "Your access to Settlemark has ended. Ask an administrator if that should not be so.")
		}
		return err
	})
	if problem.KindOf(err) == problem.Forbidden {
		a.log.WarnContext(ctx, "sign-in through the provider refused", "issuer", i.Issuer, "subject", i.Subject, "address", address)
	}
	return p, err
}

// LinkIdentity lets an account at a provider sign the person in from now on. A
// person does that for themselves, with a proof.
func (a *Acts) LinkIdentity(ctx context.Context, p commissioning.Person, i commissioning.Identity, s Signing, now time.Time) error {
	return a.withProof(ctx, p, LinkContent(p.ID, i), s, now, func(tx *db.Tx) (db.Note, error) {
		switch holder, err := tx.PersonOf(ctx, i); {
		case err == nil && holder == p.ID:
			return db.Note{}, problem.New(problem.Conflict, "This account is linked already. Load the page again.")
		case err == nil:
			return db.Note{}, problem.New(problem.Conflict, "This account is linked to somebody else here. Sign in there with your own account, and tell an administrator if this one is yours.")
		case problem.KindOf(err) != problem.NotFound:
			return db.Note{}, err
		}
		err := tx.LinkIdentity(ctx, p.ID, i, moment(now))
		if problem.KindOf(err) == problem.Conflict {
			err = problem.New(problem.Conflict, "You have linked another account there already. Unlink that one first.")
		}
		return identityNote("identity linked", p.ID, i), err
	})
}

// UnlinkIdentity ends that an account at a provider signs the person in.
func (a *Acts) UnlinkIdentity(ctx context.Context, p commissioning.Person, i commissioning.Identity, s Signing, now time.Time) error {
	return a.withProof(ctx, p, UnlinkContent(p.ID, i), s, now, func(tx *db.Tx) (db.Note, error) {
		found, err := tx.UnlinkIdentity(ctx, p.ID, i)
		if err == nil && !found {
			err = problem.New(problem.Conflict, "This account is not linked any more. Load the page again.")
		}
		return identityNote("identity unlinked", p.ID, i), err
	})
}

// unlinkAll takes every account at a provider from a person.
func unlinkAll(ctx context.Context, tx *db.Tx, id commissioning.PersonID, now time.Time) error {
	gone, err := tx.UnlinkIdentities(ctx, id)
	for _, i := range gone {
		if err != nil {
			break
		}
		n := identityNote("identity unlinked", id, i)
		n.Key, n.By = uuid.NewString(), id
		err = tx.Note(ctx, n, moment(now))
	}
	return err
}

func identityNote(act string, id commissioning.PersonID, i commissioning.Identity) db.Note {
	return db.Note{Act: act, Subject: string(id), Detail: fmt.Sprintf("%s, subject %s", i.Issuer, i.Subject)}
}

// withProof does something after a proof of identity over its content, and
// writes the act.
func (a *Acts) withProof(ctx context.Context, p commissioning.Person, hash []byte, s Signing, now time.Time, do func(*db.Tx) (db.Note, error)) error {
	proof, err := a.prove(ctx, p, s.Proof, content{hash, s.Nonce}, now)
	if err != nil {
		return err
	}
	return a.note(ctx, p.ID, now, func(tx *db.Tx) (db.Note, error) {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return db.Note{}, err
		}
		return do(tx)
	})
}
