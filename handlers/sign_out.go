package handlers

import (
	"net/http"
	"net/url"

	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// SignOut ends this session.
func (s *Screens) SignOut(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "keep")
	if err != nil {
		return err
	}
	if err := leave(w, r, form); err != nil {
		return err
	}
	return respond.Redirect(w, r, urls.SignInPattern)
}

// EndSession ends one session of the person, such as that of a lost tablet.
func (s *Screens) EndSession(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "device")
	if err != nil {
		return err
	}
	if form.Get("device") == "" {
		return problem.On("device", "Choose where to sign out.")
	}
	if err := s.DB.EndSession(r.Context(), session.Person(r).ID, form.Get("device")); err != nil {
		return err
	}
	return respond.Redirect(w, r, urls.AccountPattern)
}

// leave ends the session. Entries that are only on the tablet stay there when
// its script says so; else the browser clears all that it kept.
func leave(w http.ResponseWriter, r *http.Request, form url.Values) error {
	if form.Get("keep") == "" {
		session.Clear(w)
	}
	return session.SignOut(r)
}

// SignOutEverywhere ends every session of the person, this one too.
func (s *Screens) SignOutEverywhere(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "keep")
	if err != nil {
		return err
	}
	if err := s.DB.EndSessions(r.Context(), session.Person(r).ID); err != nil {
		return err
	}
	if err := leave(w, r, form); err != nil {
		return err
	}
	return respond.Redirect(w, r, urls.SignInPattern)
}
