package handlers

import (
	"net/http"

	"github.com/a-h/templ"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
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
	form, err := decodeForm(r, "code", "password", "second")
	if err != nil {
		return err
	}
	person, err := s.invited(r, act.Acceptance{Invite: form.Get("code"), Password: form.Get("password"), Code: form.Get("second")})
	if err != nil {
		return respond.Refused(w, r, err, invitePage(r, parts.Form{Values: form, Err: err}))
	}
	return s.begin(w, r, person, urls.HomePattern)
}

func (s *Screens) invited(r *http.Request, v act.Acceptance) (commissioning.Person, error) {
	if session.Way(r) == session.Plain {
		return commissioning.Person{}, problem.New(problem.Forbidden, session.WhyNot)
	}
	return s.Acts.UseInvite(r.Context(), v, s.Now())
}

func invitePage(r *http.Request, form parts.Form) templ.Component {
	return templates.Invite(respond.Frame(r, words.Say("Set your password"), ""), form, whyNot(r))
}
