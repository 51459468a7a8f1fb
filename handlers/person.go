package handlers

import (
	"net/http"
	"net/url"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowPerson shows one person to an administrator.
func (s *Screens) ShowPerson(w http.ResponseWriter, r *http.Request) error {
	page, err := s.personPage(r, nil)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// SetRoles replaces the roles of a person.
func (s *Screens) SetRoles(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "roles")
	if err != nil {
		return err
	}
	grants, err := decodeGrants(form["roles"])
	if err == nil {
		err = s.Acts.SetGrants(r.Context(), session.Person(r), personID(r), grants, s.Now())
	}
	return s.personDone(w, r, form, err)
}

// DisablePerson ends a person's access; their records stay.
func (s *Screens) DisablePerson(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r)
	if err != nil {
		return err
	}
	err = s.Acts.DisablePerson(r.Context(), session.Person(r), personID(r), s.Now())
	return s.personDone(w, r, form, err)
}

// SignPersonOut ends every session of a person.
func (s *Screens) SignPersonOut(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r)
	if err != nil {
		return err
	}
	err = s.Acts.EndSessions(r.Context(), session.Person(r), personID(r), s.Now())
	return s.personDone(w, r, form, err)
}

// InvitePerson makes a new one-time code, for a lost password or second factor.
func (s *Screens) InvitePerson(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("resets")...)
	if err != nil {
		return err
	}
	code, err := s.Acts.NewInvite(r.Context(), session.Person(r), personID(r), form.Get("resets"), signingOf(form), s.Now())
	if err != nil {
		return s.personDone(w, r, form, err)
	}
	invited, err := s.DB.Person(r.Context(), personID(r))
	if err != nil {
		return err
	}
	return s.showCode(w, r, invited, code)
}

func personID(r *http.Request) commissioning.PersonID {
	return commissioning.PersonID(chi.URLParam(r, "person"))
}

// personDone goes back to the person's page, or shows it with the refusal.
func (s *Screens) personDone(w http.ResponseWriter, r *http.Request, form url.Values, err error) error {
	if err == nil {
		return respond.Redirect(w, r, urls.Person(personID(r)))
	}
	page, pageErr := s.personPage(r, &parts.Form{Values: form, Err: err})
	if pageErr != nil {
		return pageErr
	}
	return s.proofRefused(w, r, err, page)
}

// personPage shows the person with the form as it came, or as things stand.
func (s *Screens) personPage(r *http.Request, form *parts.Form) (templ.Component, error) {
	if err := session.Person(r).MayAnywhere(commissioning.ManagePeople); err != nil {
		return nil, err
	}
	p, err := s.DB.Person(r.Context(), personID(r))
	if err != nil {
		return nil, err
	}
	sites, err := s.DB.Sites(r.Context())
	if err != nil {
		return nil, err
	}
	done, err := s.actLines(r, db.ActFilter{Subject: string(p.ID), Limit: 30})
	if err != nil {
		return nil, err
	}
	if form == nil {
		form = &parts.Form{Values: url.Values{"roles": templates.GrantTicks(p.Grants)}}
	}
	proving, err := s.proving(r, act.InviteContent(p.ID))
	if err != nil {
		return nil, err
	}
	return templates.PersonPage(respond.Frame(r, p.Name, templates.People), p, sites, *form, proving, done), nil
}
