package act

import (
	"context"
	"encoding/hex"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// What a one-time code lets its holder set anew. The rest must be shown, so an
// administrator who kept the code could do nothing with it, unless both were
// lost; the log shows each, and the person waits a day before countersigning
// what that administrator worked on.
const (
	ResetPassword = "password"
	ResetFactors  = "factors"
	ResetBoth     = "both"
)

// inviteLasts is how long a one-time code can be used.
const inviteLasts = 7 * 24 * time.Hour

func newInvite(code string, id commissioning.PersonID, resets string, now time.Time) db.Invite {
	return db.Invite{Hash: auth.CodeHash(code), Person: id, Resets: resets, Expires: moment(now).Add(inviteLasts)}
}

// InviteContent is what the proof of a new one-time code is bound to, beside
// what was lost.
func InviteContent(id commissioning.PersonID) []byte { return auth.ContentHash("invite/1", string(id)) }

// NewInvite makes a new one-time code for a person who lost the password, the
// second factor or both; codes before it are void. Administrators may, with a
// proof of their own.
func (a *Acts) NewInvite(ctx context.Context, p commissioning.Person, id commissioning.PersonID, resets string, s Signing, now time.Time) (string, error) {
	if err := p.MayAnywhere(commissioning.ManagePeople); err != nil {
		return "", err
	}
	words, known := map[string]string{
		ResetPassword: "a new password", ResetFactors: "a new second factor", ResetBoth: "a new password and second factor",
	}[resets]
	if !known {
		return "", problem.On("resets", "Choose what was lost.")
	}
	proof, err := a.prove(ctx, p, s.Proof, content{auth.Typed(InviteContent(id), resets), s.Nonce}, now)
	if err != nil {
		return "", err
	}
	invite := auth.NewCode()
	err = a.note(ctx, p.ID, now, func(tx *db.Tx) (db.Note, error) {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return db.Note{}, err
		}
		if _, err := tx.Person(ctx, id); err != nil {
			return db.Note{}, err
		}
		err := tx.Invite(ctx, newInvite(invite, id, resets, now), moment(now))
		return db.Note{Act: "invite made", Subject: string(id), Detail: "for " + words}, err
	})
	return invite, err
}

// inviteKey counts how often a one-time code was tried: what it leaves in force
// can't be guessed.
func inviteKey(code string) string { return "invite " + hex.EncodeToString(auth.CodeHash(code)) }

// Acceptance is what the holder of a one-time code brings.
type Acceptance struct {
	Invite   string // the one-time code
	Password string // a new one, or the present one where the code leaves it
	Code     string // of the present second factor, where the code leaves it
}

// UseInvite sets anew what the one-time code lets its holder set, and gives the
// person. The code works once. Second factors that it replaces are void.
func (a *Acts) UseInvite(ctx context.Context, v Acceptance, now time.Time) (p commissioning.Person, err error) {
	if err := auth.Acceptable(v.Password); err != nil {
		return p, err
	}
	if err := a.takeKey(ctx, inviteKey(v.Invite), moment(now)); err != nil {
		return p, err
	}
	phc, err := a.hasher.Hash(ctx, v.Password)
	if err != nil {
		return p, err
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		invite, err := findInvite(ctx, tx, v.Invite, now)
		if err != nil {
			return err
		}
		if invite.Person == "" {
			return unknownCode()
		}
		if p, err = tx.Person(ctx, invite.Person); err != nil {
			return err
		}
		if err := auth.Acceptable(v.Password, p.Login, p.Name); err != nil {
			return err
		}
		if invite.UsedBy == "" {
			if err := a.stillHas(ctx, tx, invite, v, now); err != nil {
				return err
			}
		}
		return useInvite(ctx, tx, invite, v.Invite, p.ID, phc, now)
	})
	return p, err
}

// stillHas asks for what the one-time code leaves in force.
func (a *Acts) stillHas(ctx context.Context, tx *db.Tx, invite db.UsedInvite, v Acceptance, now time.Time) error {
	c, err := tx.Credential(ctx, invite.Person)
	if err != nil {
		return err
	}
	switch {
	case invite.Resets == ResetFactors && c.Password != "":
		right, err := a.hasher.Verify(ctx, c.Password, v.Password)
		if err == nil && !right {
			err = problem.On("password", "This code replaces the second factor only. Type the password that you have.")
		}
		return err
	case invite.Resets == ResetPassword && c.Factored():
		code, err := a.checkCode(ctx, c, v.Code, now)
		if err == nil && code == nil {
			err = problem.On("second", "This code replaces the password only. Type the code that your authenticator app shows now, or a recovery code.")
		}
		if err != nil {
			return err
		}
		code.content = content{auth.CodeHash(v.Invite), "invite"}
		return code.spend(ctx, tx, moment(now))
	}
	return nil
}

// useInvite sets what the code resets and spends it. A code that is spent is
// good only for the very call that spent it, whose outcome was unknown.
func useInvite(ctx context.Context, tx *db.Tx, invite db.UsedInvite, code string, id commissioning.PersonID, phc string, now time.Time) error {
	c, err := tx.Credential(ctx, id)
	if err != nil {
		return err
	}
	if invite.UsedBy != "" {
		if c.Password != phc {
			err = unknownCode()
		}
		return err
	}
	if err := tx.SetPassword(ctx, id, phc); err != nil {
		return err
	}
	if err := tx.EndSessions(ctx, id); err != nil {
		return err
	}
	done := []string{"password set"}
	switch {
	case invite.Person == "":
		done = []string{"first administrator"}
	case invite.Resets != ResetPassword && c.Factored():
		done = append(done, "second factors void")
		if err := tx.VoidFactors(ctx, id); err != nil {
			return err
		}
	}
	if invite.Resets == ResetBoth { // whoever starts anew leaves no way in behind
		if err := unlinkAll(ctx, tx, id, now); err != nil {
			return err
		}
	}
	if err := tx.UseInvite(ctx, auth.CodeHash(code), id, moment(now)); err != nil {
		return err
	}
	for _, act := range done {
		if err := tx.Note(ctx, db.Note{Key: uuid.NewString(), Act: act, By: id, Subject: string(id)}, moment(now)); err != nil {
			return err
		}
	}
	return nil
}
