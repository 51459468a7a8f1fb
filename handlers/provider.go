package handlers

import (
	"context"
	"net/http"

	"github.com/go-chi/chi/v5/middleware"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/provider"
	"settlemark/internal/urls"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// attempt is a way to the provider that was begun in this browser: to sign in,
// or to link the account there to the person who is signed in.
type attempt struct {
	provider.Attempt
	Then string
	Link commissioning.PersonID // "" to sign in
}

const attemptName = "provider attempt"

// SignInAtProvider leads to the site's provider.
func (s *Screens) SignInAtProvider(w http.ResponseWriter, r *http.Request) error {
	form := parts.Form{Values: r.URL.Query()}
	if session.Way(r) == session.Plain {
		return respond.Refused(w, r, problem.New(problem.Forbidden, session.WhyNot), s.signInPage(r, form))
	}
	err := s.toProvider(w, r, attempt{Then: urls.Local(form.Value("then"))})
	if err != nil {
		form.Err = err
		return respond.Refused(w, r, err, s.signInPage(r, form))
	}
	return nil
}

// toProvider begins the attempt and leads the browser there.
func (s *Screens) toProvider(w http.ResponseWriter, r *http.Request, a attempt) error {
	if s.Provider == nil {
		return noProvider()
	}
	address, begun, err := s.Provider.Begin(r.Context())
	if err != nil {
		return err
	}
	a.Attempt = begun
	if err := session.Keep(r, attemptName, a); err != nil {
		return err
	}
	http.Redirect(w, r, address, http.StatusSeeOther)
	return nil
}

// ProviderAnswer takes what the provider sent the browser back with. Each
// attempt is answered once.
func (s *Screens) ProviderAnswer(w http.ResponseWriter, r *http.Request) error {
	if s.Provider == nil {
		return noProvider()
	}
	var a attempt
	session.Taken(r, attemptName, &a) // without one nothing fits the zero attempt
	prove := func(ctx context.Context) (commissioning.Identity, error) {
		return s.Provider.Finish(ctx, a.Attempt, r.URL.Query(), s.Now())
	}
	if a.Link != "" {
		return s.linkAnswer(w, r, a, prove)
	}
	p, err := s.Acts.SignInThrough(r.Context(), prove, middleware.GetClientIP(r.Context()), s.Now())
	if err != nil {
		form := parts.Form{Values: map[string][]string{"then": {a.Then}}, Err: err}
		return respond.Refused(w, r, err, s.signInPage(r, form))
	}
	return s.begin(w, r, p, urls.Local(a.Then))
}

func noProvider() error {
	return problem.New(problem.NotFound, "No sign-in through a provider is set up here. Sign in with login, password and code.")
}
