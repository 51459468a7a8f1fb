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

// AddPerson adds somebody and gives the one-time code with which the person
// sets a password; it is shown once. Administrators may.
func (a *Acts) AddPerson(ctx context.Context, p commissioning.Person, v NewPerson, now time.Time) (added commissioning.Person, invite string, err error) {
	if err := p.MayAnywhere(commissioning.ManagePeople); err != nil {
		return added, "", err
	}
	if v.Name, err = required("name", v.Name, "Give the person's name as it is printed on certificates."); err != nil {
		return added, "", err
	}
	if v.Login, err = plainLogin(v.Login); err != nil {
		return added, "", err
	}
	if err := known(v.Grants); err != nil {
		return added, "", err
	}
	invite = auth.NewCode()
	err = a.change(ctx, p.ID, now, db.PersonRegister, func() string { return string(added.ID) }, func(tx *db.Tx) (db.Note, error) {
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
		added, err = tx.Person(ctx, id)
		return db.Note{Act: "person added", Subject: string(id), Detail: v.Name + ": " + inWords(v.Grants)}, err
	})
	return added, invite, err
}

// SetGrants replaces all roles of a person and signs them out, so that nobody
// goes on under roles of before. Administrators may; the last one can't be taken
// away.
func (a *Acts) SetGrants(ctx context.Context, p commissioning.Person, id commissioning.PersonID, grants []commissioning.Grant, now time.Time) error {
	if err := p.MayAnywhere(commissioning.ManagePeople); err != nil {
		return err
	}
	if err := known(grants); err != nil {
		return err
	}
	return a.change(ctx, p.ID, now, db.PersonRegister, fixed(string(id)), func(tx *db.Tx) (db.Note, error) {
		if _, err := tx.Person(ctx, id); err != nil {
			return db.Note{}, err
		}
		if err := tx.SetGrants(ctx, id, grants); err != nil {
			return db.Note{}, err
		}
		if err := tx.EndSessions(ctx, id); err != nil {
			return db.Note{}, err
		}
		return db.Note{Act: "roles changed", Subject: string(id), Detail: inWords(grants)}, someAdministrator(ctx, tx)
	})
}

// DisablePerson ends what a person may do, at once. What they signed stays.
// Administrators may; the last one can't be disabled.
func (a *Acts) DisablePerson(ctx context.Context, p commissioning.Person, id commissioning.PersonID, now time.Time) error {
	if err := p.MayAnywhere(commissioning.ManagePeople); err != nil {
		return err
	}
	return a.change(ctx, p.ID, now, db.PersonRegister, fixed(string(id)), func(tx *db.Tx) (db.Note, error) {
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

func inWords(grants []commissioning.Grant) string {
	words := []string{}
	for _, g := range grants {
		where := "every site"
		if g.Site != 0 {
			where = fmt.Sprintf("site %d", g.Site)
		}
		words = append(words, fmt.Sprintf("%s at %s", g.Role, where))
	}
	if len(words) == 0 {
		return "no roles"
	}
	return strings.Join(words, ", ")
}
