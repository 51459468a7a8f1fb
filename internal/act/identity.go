package act

import (
	"context"
	"errors"
	"strings"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Claim is who somebody says they are, and how they show it.
type Claim struct {
	Login, Password string
	Code            string // of the authenticator app or for recovery, where the person has one
	Address         string
}

// SignIn gives the person of the claim. Whoever has a second factor needs a
// code as well. Guessing is slowed down per account and per address; an unknown
// login takes the same work and gets the same sentence as a wrong password.
// Too early is TooMany, with the seconds.
func (a *Acts) SignIn(ctx context.Context, c Claim, now time.Time) (commissioning.Person, error) {
	login := strings.ToLower(strings.TrimSpace(c.Login))
	if len(login) > 60 || len(c.Password) > 1000 || len(c.Code) > 100 {
		return commissioning.Person{}, wrongSignIn()
	}
	if err := a.takeTurn(ctx, login, c.Address, moment(now)); err != nil {
		return commissioning.Person{}, err
	}
	stored, err := a.db.CredentialFor(ctx, login)
	if err != nil && problem.KindOf(err) != problem.NotFound {
		return commissioning.Person{}, err
	}
	right, err := a.hasher.Verify(ctx, stored.Password, c.Password)
	if err != nil {
		return commissioning.Person{}, err
	}
	code := &proven{person: stored.Person}
	if stored.Factored() {
		if code, err = a.checkCode(ctx, stored, c.Code, now); err != nil {
			return commissioning.Person{}, err
		}
	}
	if !right || code == nil {
		a.log.WarnContext(ctx, "sign-in refused", "person", stored.Person, "address", c.Address) // what was typed as login may be a password
		return commissioning.Person{}, wrongSignIn()
	}
	code.content = content{nonce: uuid.NewString()}
	return a.letIn(ctx, *code, login, c, stored.Password, now)
}

// letIn spends the code, hashes the password anew where its hash is stale, and
// forgets what went wrong before.
func (a *Acts) letIn(ctx context.Context, code proven, login string, c Claim, phc string, now time.Time) (p commissioning.Person, err error) {
	anew := ""
	if a.hasher.Stale(phc) {
		if anew, err = a.hasher.Hash(ctx, c.Password); err != nil {
			return p, err
		}
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		if code.step != 0 || code.recovery != nil {
			if err := code.spend(ctx, tx, moment(now)); err != nil {
				return err
			}
		}
		if anew != "" {
			if err := tx.SetPassword(ctx, code.person, anew); err != nil {
				return err
			}
		}
		if err := tx.ForgetTries(ctx, accountKey(login), moment(now)); err != nil {
			return err
		}
		p, err = admitted(ctx, tx, code.person, c.Address)
		return err
	})
	return p, err
}

// admitted gives the person who proved who they are, and takes back the try.
func admitted(ctx context.Context, tx *db.Tx, id commissioning.PersonID, address string) (commissioning.Person, error) {
	if err := tx.ReturnTry(ctx, addressKey(address)); err != nil {
		return commissioning.Person{}, err
	}
	if _, err := tx.CountProof(ctx, id, true); err != nil {
		return commissioning.Person{}, err
	}
	return tx.Person(ctx, id)
}

// SignInByPasskey gives the person whose passkey answered the challenge after it
// had verified its holder.
func (a *Acts) SignInByPasskey(ctx context.Context, said commissioning.Assertion, challenge []byte, address string, now time.Time) (p commissioning.Person, err error) {
	if err := a.takeAddress(ctx, address, moment(now)); err != nil {
		return p, err
	}
	said, stored, err := a.passkeyAnswer(ctx, said, "", func(said commissioning.Assertion) error {
		return auth.CheckAnswer(said, challenge, said.RP)
	})
	if errors.Is(err, errWrongProof) {
		a.log.WarnContext(ctx, "sign-in by passkey refused", "address", address, "cause", err)
		return p, problem.New(problem.Invalid, "This passkey is not known here, or it did not answer as it should. Sign in with login, password and code.")
	}
	if err != nil {
		return p, err
	}
	count, err := auth.Counter(said)
	if err != nil {
		return p, err
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		if err := usePasskey(ctx, tx, said, stored.Person, count, moment(now)); err != nil {
			return err
		}
		if p, err = admitted(ctx, tx, stored.Person, address); err == nil && p.DisabledAt != nil {
			err = wrongSignIn()
		}
		return err
	})
	return p, err
}

func wrongSignIn() error {
	return problem.New(problem.Invalid, "Login, password or code is wrong. Check them and try again; the code changes every 30 s.")
}

func tooMany(what words.Text, wait time.Duration) error {
	seconds := auth.Seconds(wait)
	return &problem.Error{
		Kind: problem.TooMany, Seconds: seconds, Sentence: words.Say("%s Wait %d s and try again.", what, seconds),
	}
}

func addressKey(address string) string { return "address " + address }

func accountKey(login string) string { return "account " + login }

// takeTurn counts the try before anything is compared, so that many at once
// gain nothing.
func (a *Acts) takeTurn(ctx context.Context, login, address string, now time.Time) error {
	if err := a.takeAddress(ctx, address, now); err != nil {
		return err
	}
	return a.takeKey(ctx, accountKey(login), now)
}

// takeKey counts a try at an account or a one-time code.
func (a *Acts) takeKey(ctx context.Context, key string, now time.Time) error {
	var wait time.Duration
	err := a.db.InTx(ctx, func(tx *db.Tx) (err error) {
		wait, err = tx.TryAccount(ctx, key, auth.AccountWaits, auth.ForgetAccount, now)
		return err
	})
	what, _, _ := strings.Cut(key, " ") // the rest is what somebody typed, which may be a secret
	return a.slowed(ctx, what, wait, err)
}

func (a *Acts) takeAddress(ctx context.Context, address string, now time.Time) error {
	var wait time.Duration
	err := a.db.InTx(ctx, func(tx *db.Tx) (err error) {
		wait, err = tx.TryAddress(ctx, addressKey(address), auth.AddressTries, auth.AddressWindow, now)
		return err
	})
	return a.slowed(ctx, "address "+address, wait, err)
}

func (a *Acts) slowed(ctx context.Context, what string, wait time.Duration, err error) error {
	if err == nil && wait > 0 {
		a.log.WarnContext(ctx, "sign-in slowed down", "what", what, "wait", wait)
		return tooMany(words.Say("Too many tries."), wait)
	}
	return err
}

// SetupCode makes a one-time code for the first administrator while nobody
// exists; the code before it is void.
func (a *Acts) SetupCode(ctx context.Context, now time.Time) (code string, needed bool, err error) {
	code = auth.NewCode()
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		somebody, err := tx.Anybody(ctx)
		if needed = !somebody; err != nil || somebody {
			return err
		}
		return tx.Invite(ctx, db.Invite{Hash: auth.CodeHash(code), Resets: ResetBoth, Expires: moment(now).Add(inviteLasts)}, moment(now))
	})
	if !needed {
		code = ""
	}
	return code, needed, err
}

// Setup makes the first administrator, with the code that was printed at start.
func (a *Acts) Setup(ctx context.Context, code, name, login, password string, now time.Time) (p commissioning.Person, err error) {
	if name, err = required("name", name, "Give your name as it is printed on certificates."); err != nil {
		return p, err
	}
	if login, err = plainLogin(login); err != nil {
		return p, err
	}
	if err := auth.Acceptable(password, login, name); err != nil {
		return p, err
	}
	phc, err := a.hasher.Hash(ctx, password)
	if err != nil {
		return p, err
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		invite, err := findInvite(ctx, tx, code, now)
		if err != nil {
			return err
		}
		if invite.Person != "" {
			return unknownCode()
		}
		id := invite.UsedBy
		if id == "" {
			if id, err = tx.AddPerson(ctx, name, login); err != nil {
				return err
			}
			if err := tx.SetGrants(ctx, id, []commissioning.Grant{{Role: commissioning.Administrator}}); err != nil {
				return err
			}
		}
		if err := useInvite(ctx, tx, invite, code, id, phc, now); err != nil {
			return err
		}
		p, err = tx.Person(ctx, id)
		return err
	})
	return p, err
}

func findInvite(ctx context.Context, tx *db.Tx, code string, now time.Time) (db.UsedInvite, error) {
	invite, err := tx.LockInvite(ctx, auth.CodeHash(code), moment(now))
	if problem.KindOf(err) == problem.NotFound {
		err = unknownCode()
	}
	return invite, err
}

func unknownCode() error {
	return problem.On("code", "This code is not known, or it is over. Ask an administrator for a new one.")
}
