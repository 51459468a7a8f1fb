package handlers

import (
	"net/http"

	"github.com/a-h/templ"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowSetup asks for the one-time code that was printed when the app started
// on an empty database.
func (s *Screens) ShowSetup(w http.ResponseWriter, r *http.Request) error {
	return respond.HTML(w, r, http.StatusOK, setupPage(r, parts.Form{}))
}

// Setup makes the first administrator and signs them in.
func (s *Screens) Setup(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "code", "name", "login", "password")
	if err != nil {
		return err
	}
	person, err := s.firstAdministrator(r, form.Get("code"), form.Get("name"), form.Get("login"), form.Get("password"))
	if err != nil {
		return respond.Refused(w, r, err, setupPage(r, parts.Form{Values: form, Err: err}))
	}
	return s.begin(w, r, person, urls.HomePattern)
}

func (s *Screens) firstAdministrator(r *http.Request, code, name, login, password string) (commissioning.Person, error) {
	if session.Way(r) == session.Plain {
		return commissioning.Person{}, problem.New(problem.Forbidden, session.WhyNot)
	}
	return s.Acts.Setup(r.Context(), code, name, login, password, s.Now())
}

func setupPage(r *http.Request, form parts.Form) templ.Component {
	return templates.Setup(respond.Frame(r, words.Say("First administrator"), ""), form, whyNot(r))
}
