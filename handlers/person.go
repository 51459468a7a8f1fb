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
	"settlemark/internal/words"
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
	form, err := decodeForm(r, signedFields("roles")...)
	if err != nil {
		return err
	}
	grants, err := decodeGrants(form["roles"])
	if err == nil {
		err = s.Acts.SetGrants(r.Context(), session.Person(r), personID(r), grants, signingOf(form), s.Now())
	}
	if err == nil {
		return respond.Redirect(w, r, urls.Person(personID(r)))
	}
	page, pageErr := s.personPage(r, &parts.Form{Values: form, Err: err})
	if pageErr != nil {
		return pageErr
	}
	return s.proofRefused(w, r, err, page)
}

// SignPersonOut ends every session of a person.
func (s *Screens) SignPersonOut(w http.ResponseWriter, r *http.Request) error {
	if _, err := decodeForm(r); err != nil {
		return err
	}
	if err := s.Acts.EndSessions(r.Context(), session.Person(r), personID(r), s.Now()); err != nil {
		return err
	}
	return respond.Redirect(w, r, urls.Person(personID(r)))
}

func personID(r *http.Request) commissioning.PersonID {
	return commissioning.PersonID(chi.URLParam(r, "person"))
}

// personPage shows the person with the form as it came, or as things stand.
func (s *Screens) personPage(r *http.Request, form *parts.Form) (templ.Component, error) {
	if err := session.Person(r).MayAnywhere(commissioning.ManagePeople); err != nil {
		return nil, err
	}
	v := templates.PersonView{}
	var err error
	if v.Person, err = s.DB.Person(r.Context(), personID(r)); err != nil {
		return nil, err
	}
	if v.Sites, err = s.DB.Sites(r.Context()); err != nil {
		return nil, err
	}
	if v.Acts, err = s.actLines(r, db.ActFilter{Subject: string(v.ID), Limit: 30}); err != nil {
		return nil, err
	}
	if v.Same, err = s.DB.Same(r.Context(), v.ID); err != nil {
		return nil, err
	}
	v.Form = parts.Form{Values: url.Values{"roles": templates.GrantTicks(v.Grants)}}
	if form != nil {
		v.Form = *form
	}
	if v.Proving, err = s.proving(r, act.RolesContent(v.ID), "roles"); err != nil {
		return nil, err
	}
	return templates.PersonPage(respond.Frame(r, words.Plain(v.Name), templates.People), v), nil
}
