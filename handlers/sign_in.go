package handlers

import (
	"net/http"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5/middleware"

	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowSignIn asks who is there. Over plain http it says why nobody may sign in.
func (s *Screens) ShowSignIn(w http.ResponseWriter, r *http.Request) error {
	then := urls.Local(r.URL.Query().Get("then"))
	if _, ok := session.Current(r); ok {
		return respond.Redirect(w, r, then)
	}
	return respond.HTML(w, r, http.StatusOK, signInPage(r, parts.Form{Values: r.URL.Query()}))
}

// SignIn checks login and password and begins a session.
func (s *Screens) SignIn(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "login", "password", "then")
	if err != nil {
		return err
	}
	if session.Way(r) == session.Plain {
		refusal := problem.New(problem.Forbidden, session.WhyNot)
		return respond.Refused(w, r, refusal, signInPage(r, parts.Form{Values: form}))
	}
	person, err := s.Acts.SignIn(r.Context(), form.Get("login"), form.Get("password"), middleware.GetClientIP(r.Context()), s.Now())
	if err != nil {
		return respond.Refused(w, r, err, signInPage(r, parts.Form{Values: form, Err: err}))
	}
	if err := session.SignIn(r, person); err != nil {
		return err
	}
	return respond.Redirect(w, r, urls.Local(form.Get("then")))
}

func signInPage(r *http.Request, form parts.Form) templ.Component {
	return templates.SignIn(respond.Frame(r, "Sign in", ""), form, whyNot(r))
}

// whyNot is the sentence for a request over plain http, else "".
func whyNot(r *http.Request) string {
	if session.Way(r) == session.Plain {
		return session.WhyNot
	}
	return ""
}
