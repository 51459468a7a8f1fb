package handlers

import (
	"net/http"

	"github.com/a-h/templ"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowInvite asks a person who was given a one-time code for a password.
func (s *Screens) ShowInvite(w http.ResponseWriter, r *http.Request) error {
	return respond.HTML(w, r, http.StatusOK, invitePage(r, parts.Form{Values: r.URL.Query()}))
}

// UseInvite sets the password and signs the person in.
func (s *Screens) UseInvite(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "code", "password")
	if err != nil {
		return err
	}
	person, err := s.invited(r, form.Get("code"), form.Get("password"))
	if err != nil {
		return respond.Refused(w, r, err, invitePage(r, parts.Form{Values: form, Err: err}))
	}
	if err := s.Sessions.End(r.Context(), person.ID); err != nil { // the old password's sessions
		return err
	}
	if err := session.SignIn(r, person); err != nil {
		return err
	}
	return respond.Redirect(w, r, urls.HomePattern)
}

func (s *Screens) invited(r *http.Request, code, password string) (commissioning.Person, error) {
	if session.Way(r) == session.Plain {
		return commissioning.Person{}, problem.New(problem.Forbidden, session.WhyNot)
	}
	return s.Acts.UseInvite(r.Context(), code, password, s.Now())
}

func invitePage(r *http.Request, form parts.Form) templ.Component {
	return templates.Invite(respond.Frame(r, "Set your password", ""), form, whyNot(r))
}
