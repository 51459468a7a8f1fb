package act

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// SignIn gives the person with this login and password. Guessing is slowed down
// per account and per address; an unknown login takes the same work and gets
// the same sentence as a wrong password. Too early is Busy, with the seconds.
func (a *Acts) SignIn(ctx context.Context, login, password, address string, now time.Time) (commissioning.Person, error) {
	login = strings.ToLower(strings.TrimSpace(login))
	if len(login) > 60 || len(password) > 1000 {
		return commissioning.Person{}, wrongSignIn()
	}
	if err := a.takeTurn(ctx, login, address, moment(now)); err != nil {
		return commissioning.Person{}, err
	}
	c, err := a.db.CredentialFor(ctx, login)
	if err != nil && problem.KindOf(err) != problem.NotFound {
		return commissioning.Person{}, err
	}
	right, err := a.hasher.Verify(ctx, c.Password, password)
	if err != nil {
		return commissioning.Person{}, err
	}
	if !right {
		a.log.WarnContext(ctx, "sign-in refused", "login", login, "address", address)
		return commissioning.Person{}, wrongSignIn()
	}
	var p commissioning.Person
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		if err := tx.ForgetTries(ctx, accountKey(login), moment(now)); err != nil {
			return err
		}
		if _, err := tx.CountProof(ctx, c.Person, true); err != nil {
			return err
		}
		p, err = tx.Person(ctx, c.Person)
		return err
	})
	return p, err
}

func wrongSignIn() error {
	return problem.New(problem.Invalid, "Login or password is wrong. Check both and try again.")
}

func accountKey(login string) string { return "account " + login }

// takeTurn counts the try before anything is compared, so that many at once
// gain nothing.
func (a *Acts) takeTurn(ctx context.Context, login, address string, now time.Time) error {
	var wait time.Duration
	err := a.db.InTx(ctx, func(tx *db.Tx) (err error) {
		wait, err = tx.TryAddress(ctx, "address "+address, auth.AddressTries, auth.AddressWindow, now)
		if err != nil || wait > 0 {
			return err
		}
		wait, err = tx.TryAccount(ctx, accountKey(login), auth.AccountWaits, auth.ForgetAccount, now)
		return err
	})
	if err == nil && wait > 0 {
		a.log.WarnContext(ctx, "sign-in slowed down", "login", login, "address", address, "wait", wait)
		return problem.New(problem.Busy, "Too many tries. Wait %d s and try again.", auth.Seconds(wait))
	}
	return err
}

// UseInvite sets the password of the person whom the one-time code is for, and
// gives the person. The code works once.
func (a *Acts) UseInvite(ctx context.Context, code, password string, now time.Time) (p commissioning.Person, err error) {
	if err := auth.Acceptable(password); err != nil {
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
		if invite.Person == "" {
			return unknownCode()
		}
		if p, err = tx.Person(ctx, invite.Person); err != nil {
			return err
		}
		if err := auth.Acceptable(password, p.Login, p.Name); err != nil {
			return err
		}
		return useInvite(ctx, tx, invite, code, p.ID, phc, "password set", now)
	})
	return p, err
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
		return tx.Invite(ctx, auth.CodeHash(code), "", moment(now).Add(inviteLasts), moment(now))
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
		if err := useInvite(ctx, tx, invite, code, id, phc, "first administrator", now); err != nil {
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

// useInvite sets the password and spends the code. A code that is spent is good
// only for the very call that spent it, whose outcome was unknown.
func useInvite(ctx context.Context, tx *db.Tx, invite db.UsedInvite, code string, id commissioning.PersonID, phc, what string, now time.Time) error {
	if invite.UsedBy != "" {
		c, err := tx.Credential(ctx, invite.UsedBy)
		if err == nil && c.Password != phc {
			err = unknownCode()
		}
		return err
	}
	if err := tx.SetPassword(ctx, id, phc); err != nil {
		return err
	}
	if err := tx.UseInvite(ctx, auth.CodeHash(code), id, moment(now)); err != nil {
		return err
	}
	return tx.Note(ctx, db.Note{Key: uuid.NewString(), Act: what, By: id, Subject: string(id)}, moment(now))
}
