package handlers

import (
	"encoding/base64"
	"encoding/json"
	"net/http"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5/middleware"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
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
	return respond.HTML(w, r, http.StatusOK, s.signInPage(r, parts.Form{Values: r.URL.Query()}))
}

// SignIn checks login and password and begins a session.
func (s *Screens) SignIn(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "login", "password", "code", "then")
	if err != nil {
		return err
	}
	if session.Way(r) == session.Plain {
		refusal := problem.New(problem.Forbidden, session.WhyNot)
		return respond.Refused(w, r, refusal, s.signInPage(r, parts.Form{Values: form}))
	}
	claim := act.Claim{
		Login: form.Get("login"), Password: form.Get("password"), Code: form.Get("code"),
		Address: middleware.GetClientIP(r.Context()),
	}
	person, err := s.Acts.SignIn(r.Context(), claim, s.Now())
	if err != nil {
		return respond.Refused(w, r, err, s.signInPage(r, parts.Form{Values: form, Err: err}))
	}
	return s.begin(w, r, person, urls.Local(form.Get("then")))
}

// SignInByPasskey begins a session for whoever's passkey answered the challenge.
func (s *Screens) SignInByPasskey(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "passkey", "then")
	if err != nil {
		return err
	}
	challenge := session.Asked(r)
	if session.Way(r) == session.Plain {
		refusal := problem.New(problem.Forbidden, session.WhyNot)
		return respond.Refused(w, r, refusal, s.signInPage(r, parts.Form{Values: form}))
	}
	said := auth.ReadAssertion(form.Get("passkey"))
	person, err := s.Acts.SignInByPasskey(r.Context(), *said, challenge, middleware.GetClientIP(r.Context()), s.Now())
	if err != nil {
		return respond.Refused(w, r, err, s.signInPage(r, parts.Form{Values: form, Err: err}))
	}
	return s.begin(w, r, person, urls.Local(form.Get("then")))
}

// Challenge draws a challenge for the page's script to hand to a passkey.
func (s *Screens) Challenge(w http.ResponseWriter, r *http.Request) error {
	if session.Way(r) == session.Plain {
		return problem.New(problem.Forbidden, session.WhyNot)
	}
	w.Header().Set("Content-Type", "application/json")
	return json.NewEncoder(w).Encode(map[string]string{"challenge": base64.RawURLEncoding.EncodeToString(session.Ask(r))})
}

// begin begins the session; whoever has no second factor is led to add one.
func (s *Screens) begin(w http.ResponseWriter, r *http.Request, p commissioning.Person, then string) error {
	factors, err := s.DB.Factors(r.Context(), p.ID)
	if err != nil {
		return err
	}
	if err := session.SignIn(r, p, s.Now()); err != nil {
		return err
	}
	if !factors.App && len(factors.Passkeys) == 0 {
		return respond.Redirect(w, r, urls.FactorsThen(then))
	}
	return respond.Redirect(w, r, then)
}

func (s *Screens) signInPage(r *http.Request, form parts.Form) templ.Component {
	return templates.SignIn(respond.Frame(r, words.Say("Sign in"), ""), form, whyNot(r), s.rp(r), s.demoCodeFor(r, form.Value("login")), s.Provider.Label())
}

// demoCodeFor is the code to show before it is known who signs in.
func (s *Screens) demoCodeFor(r *http.Request, login string) string {
	factors := db.Factors{}
	if people, err := s.DB.People(r.Context()); err == nil && login != "" && len(s.DemoSeed) > 0 {
		for _, p := range people {
			if p.Login == login {
				factors, _ = s.DB.Factors(r.Context(), p.ID) // else the code of this half minute
			}
		}
	}
	return s.demoCode(factors)
}

// whyNot is the sentence for a request over plain http, else an empty one.
func whyNot(r *http.Request) words.Text {
	if session.Way(r) == session.Plain {
		return words.Say(session.WhyNot)
	}
	return words.Text{}
}
