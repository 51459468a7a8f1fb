package act

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// AdditionContent is what the proof of a new person is bound to, beside the
// name, the login and the roles.
func AdditionContent() []byte { return auth.ContentHash("person/1") }

// AddPerson adds somebody and gives the one-time code with which the person
// sets a password; it is shown once. Administrators may, with a proof.
func (a *Acts) AddPerson(ctx context.Context, p commissioning.Person, v NewPerson, s Signing, now time.Time) (added commissioning.Person, invite string, err error) {
	if err := p.MayAnywhere(commissioning.ManagePeople); err != nil {
		return added, "", err
	}
	over := content{auth.Typed(AdditionContent(), v.Name, v.Login, codes(v.Grants)), s.Nonce}
	if v.Name, err = required("name", v.Name, "Give the person's name as it is printed on certificates."); err != nil {
		return added, "", err
	}
	if v.Login, err = plainLogin(v.Login); err != nil {
		return added, "", err
	}
	if err := known(v.Grants); err != nil {
		return added, "", err
	}
	proof, err := a.prove(ctx, p, s.Proof, over, now)
	if err != nil {
		return added, "", err
	}
	invite = auth.NewCode()
	err = a.change(ctx, p.ID, now, db.PersonRegister, func() string { return string(added.ID) }, func(tx *db.Tx) (db.Note, error) {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return db.Note{}, err
		}
		id, err := tx.AddPerson(ctx, v.Name, v.Login)
		if err != nil {
			return db.Note{}, err
		}
		if err := tx.SetGrants(ctx, id, v.Grants); err != nil {
			return db.Note{}, err
		}
		if err := tx.Invite(ctx, newInvite(invite, id, ResetBoth, now), moment(now)); err != nil {
			return db.Note{}, err
		}
		if added, err = tx.Person(ctx, id); err != nil {
			return db.Note{}, err
		}
		roles, err := inWords(ctx, tx, v.Grants)
		return db.Note{Act: "person added", Subject: string(id), Detail: v.Name + ": " + roles}, err
	})
	return added, invite, err
}

// RolesContent is what the proof of a change of roles is bound to, beside the
// roles.
func RolesContent(id commissioning.PersonID) []byte { return auth.ContentHash("roles/1", string(id)) }

// SetGrants replaces all roles of a person and signs them out, so that nobody
// goes on under roles of before. Administrators may, with a proof; the last one
// can't be taken away.
func (a *Acts) SetGrants(ctx context.Context, p commissioning.Person, id commissioning.PersonID, grants []commissioning.Grant, s Signing, now time.Time) error {
	if err := p.MayAnywhere(commissioning.ManagePeople); err != nil {
		return err
	}
	if err := known(grants); err != nil {
		return err
	}
	proof, err := a.prove(ctx, p, s.Proof, content{auth.Typed(RolesContent(id), codes(grants)), s.Nonce}, now)
	if err != nil {
		return err
	}
	return a.change(ctx, p.ID, now, db.PersonRegister, fixed(string(id)), func(tx *db.Tx) (db.Note, error) {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return db.Note{}, err
		}
		if _, err := tx.Person(ctx, id); err != nil {
			return db.Note{}, err
		}
		if err := tx.SetGrants(ctx, id, grants); err != nil {
			return db.Note{}, err
		}
		if err := tx.EndSessions(ctx, id); err != nil {
			return db.Note{}, err
		}
		roles, err := inWords(ctx, tx, grants)
		if err != nil {
			return db.Note{}, err
		}
		return db.Note{Act: "roles changed", Subject: string(id), Detail: roles}, someAdministrator(ctx, tx)
	})
}

// EndContent is what the proof that ends a person's access is bound to.
func EndContent(id commissioning.PersonID) []byte { return auth.ContentHash("disable/1", string(id)) }

// DisablePerson ends what a person may do, at once. What they signed stays.
// Administrators may, with a proof; the last one can't be disabled.
func (a *Acts) DisablePerson(ctx context.Context, p commissioning.Person, id commissioning.PersonID, s Signing, now time.Time) error {
	if err := p.MayAnywhere(commissioning.ManagePeople); err != nil {
		return err
	}
	proof, err := a.prove(ctx, p, s.Proof, content{EndContent(id), s.Nonce}, now)
	if err != nil {
		return err
	}
	return a.change(ctx, p.ID, now, db.PersonRegister, fixed(string(id)), func(tx *db.Tx) (db.Note, error) {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return db.Note{}, err
		}
		if _, err := tx.Person(ctx, id); err != nil {
			return db.Note{}, err
		}
		if err := tx.DisablePerson(ctx, id, moment(now)); err != nil {
			return db.Note{}, err
		}
		if err := tx.EndSessions(ctx, id); err != nil {
			return db.Note{}, err
		}
		return db.Note{Act: "person disabled", Subject: string(id)}, someAdministrator(ctx, tx)
	})
}

// EndSessions signs a person out everywhere, as when a tablet is lost and its
// owner far. Administrators may.
func (a *Acts) EndSessions(ctx context.Context, p commissioning.Person, id commissioning.PersonID, now time.Time) error {
	if err := p.MayAnywhere(commissioning.ManagePeople); err != nil {
		return err
	}
	return a.note(ctx, p.ID, now, func(tx *db.Tx) (db.Note, error) {
		if _, err := tx.Person(ctx, id); err != nil {
			return db.Note{}, err
		}
		return db.Note{Act: "sessions ended", Subject: string(id)}, tx.EndSessions(ctx, id)
	})
}

func someAdministrator(ctx context.Context, tx *db.Tx) error {
	n, err := tx.Administrators(ctx)
	if err == nil && n == 0 {
		err = problem.New(problem.Conflict, "This is the last administrator. Make somebody else one first.")
	}
	return err
}

// plainLogin gives a login as it is stored and compared.
func plainLogin(login string) (string, error) {
	login, err := required("login", strings.ToLower(login), "Give a login, such as mira.sand.")
	if err != nil {
		return "", err
	}
	if len(login) > 60 || strings.ContainsAny(login, " \t\r\n") {
		return "", problem.On("login", "A login has up to 60 characters and no spaces. Change it.")
	}
	return login, nil
}

func known(grants []commissioning.Grant) error {
	for i, g := range grants {
		if !slices.Contains(commissioning.Roles, g.Role) {
			return problem.On("roles", "%q is no role. Choose one from the list.", g.Role)
		}
		if slices.Contains(grants[:i], g) {
			return problem.On("roles", "The role %s is given twice for one site. Give it once.", g.Role)
		}
	}
	return nil
}

// codes are roles as the form sends them, and so as they are signed.
func codes(grants []commissioning.Grant) string {
	all := make([]string, len(grants))
	for i, g := range grants {
		all[i] = g.Code()
	}
	return strings.Join(all, ",")
}

// inWords says roles with the names that the sites have now.
func inWords(ctx context.Context, tx *db.Tx, grants []commissioning.Grant) (string, error) {
	if len(grants) == 0 {
		return "no roles", nil
	}
	words := make([]string, len(grants))
	for i, g := range grants {
		where := "every site"
		if g.Site != 0 {
			site, err := tx.Site(ctx, g.Site)
			if err != nil {
				return "", err
			}
			where = site.Name
		}
		words[i] = fmt.Sprintf("%s at %s", g.Role, where)
	}
	return strings.Join(words, ", "), nil
}
