package act

import (
	"context"
	"encoding/base64"
	"errors"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Proof is how a person proves, at an act, who they are: a passkey that
// verified its holder, or password and code. Whatever the session says, each
// signature asks for all of it again.
type Proof struct {
	Password string
	Code     string                   // of the authenticator app, or a recovery code
	Passkey  *commissioning.Assertion // as the browser gave it
}

// How an identity was proven, as signatures print it.
const (
	byCode     = "password and code"
	byRecovery = "password and recovery code"
	byPasskey  = "passkey"
)

// content is what a proof is for: something by its hash, in a form by its nonce.
type content struct {
	hash  []byte
	nonce string
}

// use names what a code was spent for.
func (c content) use() []byte { return auth.SigningChallenge(c.hash, c.nonce) }

// proven is a proof that was right. Its act spends it in its own transaction,
// so a code or a passkey's answer carries one act, and none that is refused;
// the same form sent again is the same act.
type proven struct {
	person    commissioning.PersonID
	method    string
	step      int64  // of the code
	recovery  []byte // hash of the recovery code
	assertion *commissioning.Assertion
	content   content
	count     int64 // of the passkey
}

var errWrongProof = errors.New("wrong proof of identity")

// prove asks for the person's proof again, whatever the session says. After
// five wrong ones in a row nothing is tried until the person has signed in anew.
func (a *Acts) prove(ctx context.Context, p commissioning.Person, proof Proof, over content, now time.Time) (proven, error) {
	c, err := a.db.CredentialOf(ctx, p.ID)
	switch {
	case err != nil:
		return proven{}, err
	case c.WrongProofs >= auth.WrongProofs:
		return proven{}, sessionOver()
	case !c.Factored():
		return proven{}, noFactor()
	}
	if err := proof.complete(); err != nil {
		return proven{}, err
	}
	found, err := a.check(ctx, c, proof, over, now)
	if err != nil && !errors.Is(err, errWrongProof) {
		return proven{}, err
	}
	return found, a.counted(ctx, p.ID, err, now)
}

// complete says what is plainly missing, which is no wrong proof.
func (p Proof) complete() error {
	if p.Passkey != nil {
		return nil
	}
	var missing []error
	if p.Password == "" {
		missing = append(missing, problem.On("password", "Type your password."))
	}
	if p.Code == "" {
		missing = append(missing, problem.On("code", "Type the code of your authenticator app, or a recovery code."))
	}
	return errors.Join(missing...)
}

// counted keeps count of wrong proofs in a row and tells the fifth.
func (a *Acts) counted(ctx context.Context, id commissioning.PersonID, wrongProof error, now time.Time) error {
	var wrong int
	err := a.db.InTx(ctx, func(tx *db.Tx) (err error) {
		if wrong, err = tx.CountProof(ctx, id, wrongProof == nil); err != nil || wrong != auth.WrongProofs {
			return err
		}
		note := db.Note{Key: uuid.NewString(), Act: "five wrong proofs", By: id, Subject: string(id), Detail: "signed out"}
		return tx.Note(ctx, note, moment(now))
	})
	switch {
	case err != nil || wrongProof == nil:
		return err
	case wrong >= auth.WrongProofs:
		a.log.WarnContext(ctx, "too many wrong proofs", "person", id)
		return sessionOver()
	}
	a.log.WarnContext(ctx, "wrong proof", "person", id, "in_a_row", wrong, "cause", wrongProof)
	return wrongProof
}

// check compares a proof with what is stored. It costs the same, right or wrong.
func (a *Acts) check(ctx context.Context, c db.Credential, proof Proof, over content, now time.Time) (proven, error) {
	if proof.Passkey != nil {
		return a.checkPasskey(ctx, c.Person, proof, over)
	}
	right, err := a.hasher.Verify(ctx, c.Password, proof.Password)
	if err != nil {
		return proven{}, err
	}
	found, err := a.checkCode(ctx, c, proof.Code, now)
	if err != nil {
		return proven{}, err
	}
	if !right || found == nil {
		return proven{}, &problem.Error{
			Kind: problem.Invalid, Field: "password", Cause: errWrongProof,
			Sentence: words.Say("Password or code is wrong. Nothing was done; type both again."),
		}
	}
	found.content = over
	if found.method = byCode; found.recovery != nil {
		found.method = byRecovery
	}
	return *found, nil
}

// checkCode finds what the code is: of the app, or one for recovery; nil when it
// is neither. Whether it was used before is asked when it is spent.
func (a *Acts) checkCode(ctx context.Context, c db.Credential, code string, now time.Time) (*proven, error) {
	if len(c.Seed) > 0 {
		seed, err := a.secrets.Open(c.Seed, string(c.Person))
		if err != nil {
			return nil, err
		}
		if step, right := auth.Match(seed, code, now); right {
			return &proven{person: c.Person, step: step}, nil
		}
	}
	hash := auth.CodeHash(code)
	known, err := a.db.Recovery(ctx, c.Person, hash)
	if err != nil || !known {
		return nil, err
	}
	return &proven{person: c.Person, recovery: hash}, nil
}

func (a *Acts) checkPasskey(ctx context.Context, id commissioning.PersonID, proof Proof, over content) (proven, error) {
	assertion, _, err := a.passkeyAnswer(ctx, *proof.Passkey, id, func(said commissioning.Assertion) error {
		return auth.CheckAssertion(said, over.hash, over.nonce, said.RP)
	})
	if err != nil {
		return proven{}, err
	}
	count, err := auth.Counter(assertion)
	if err != nil {
		return proven{}, err
	}
	assertion.Nonce = over.nonce
	return proven{person: id, method: byPasskey, assertion: &assertion, content: over, count: count}, nil
}

// passkeyAnswer finds the passkey behind an answer, of this person when id is
// set, and lets check hold the answer against it.
func (a *Acts) passkeyAnswer(ctx context.Context, said commissioning.Assertion, id commissioning.PersonID, check func(commissioning.Assertion) error) (commissioning.Assertion, db.PasskeyRow, error) {
	key, err := base64.RawURLEncoding.DecodeString(said.Credential)
	if err != nil {
		return said, db.PasskeyRow{}, wrongPasskey(err)
	}
	stored, err := a.db.Passkey(ctx, key)
	if problem.KindOf(err) == problem.NotFound || err == nil && id != "" && stored.Person != id {
		return said, db.PasskeyRow{}, wrongPasskey(errors.New("the passkey is not theirs"))
	}
	if err != nil {
		return said, db.PasskeyRow{}, err
	}
	said.PublicKey, said.RP = base64.RawURLEncoding.EncodeToString(stored.PublicKey), stored.RP
	if err := check(said); err != nil {
		return said, db.PasskeyRow{}, wrongPasskey(err)
	}
	return said, stored, nil
}

func wrongPasskey(cause error) error {
	return &problem.Error{
		Kind: problem.Invalid, Field: "passkey", Cause: errors.Join(errWrongProof, cause),
		Sentence: words.Say("The passkey did not prove that it is you. Nothing was done; load the page again and try once more."),
	}
}

// spend uses the proof up within the act's own transaction.
func (p proven) spend(ctx context.Context, tx *db.Tx, at time.Time) error {
	var fresh bool
	var err error
	switch {
	case p.assertion != nil:
		return p.keep(ctx, tx, at)
	case p.recovery != nil:
		if fresh, err = tx.UseRecovery(ctx, p.person, p.recovery, p.content.use(), at); err == nil && fresh {
			note := db.Note{Key: uuid.NewString(), Act: "recovery code used", By: p.person, Subject: string(p.person)}
			err = tx.Note(ctx, note, at)
		}
	default:
		fresh, err = tx.UseStep(ctx, p.person, p.step, p.content.use())
	}
	if err == nil && !fresh {
		err = codeSpent()
	}
	return err
}

// keep stores what the passkey signed, so that it can be checked for ever.
func (p proven) keep(ctx context.Context, tx *db.Tx, at time.Time) error {
	body, err := ledger.Canonical(p.assertion)
	if err != nil {
		return err
	}
	fresh, err := tx.KeepAssertion(ctx, p.content.nonce, p.person, p.content.hash, body)
	if err != nil || !fresh {
		return err
	}
	return usePasskey(ctx, tx, *p.assertion, p.person, p.count, at)
}

// usePasskey moves the count of a passkey on.
func usePasskey(ctx context.Context, tx *db.Tx, said commissioning.Assertion, id commissioning.PersonID, count int64, at time.Time) error {
	key, err := base64.RawURLEncoding.DecodeString(said.Credential)
	if err != nil {
		return err
	}
	forward, err := tx.UsePasskey(ctx, key, id, count, at)
	if err == nil && !forward {
		err = wrongPasskey(errors.New("the count of signatures did not go on: a copy of the device"))
	}
	return err
}

func sessionOver() error {
	return &problem.Error{
		Kind: problem.Forbidden, Cause: ErrSessionOver,
		Sentence: words.Say("Your proof of identity was wrong five times in a row. You are signed out; sign in again to sign."),
	}
}

func noFactor() error {
	return problem.New(problem.Forbidden, "You have no second factor yet, so you can't prove that it is you. Add one under Account, then come back.")
}

func codeSpent() error {
	return problem.On("code", "This code was used before. Wait for the next one, then type it.")
}
