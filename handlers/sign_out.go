package handlers

import (
	"net/http"

	"settlemark/internal/urls"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// SignOut ends this session.
func (s *Screens) SignOut(w http.ResponseWriter, r *http.Request) error {
	if _, err := decodeForm(r); err != nil {
		return err
	}
	if err := session.SignOut(w, r); err != nil {
		return err
	}
	return respond.Redirect(w, r, urls.SignInPattern)
}

// SignOutEverywhere ends every session of the person, this one too.
func (s *Screens) SignOutEverywhere(w http.ResponseWriter, r *http.Request) error {
	if _, err := decodeForm(r); err != nil {
		return err
	}
	if err := s.Sessions.End(r.Context(), session.Person(r).ID); err != nil {
		return err
	}
	if err := session.SignOut(w, r); err != nil {
		return err
	}
	return respond.Redirect(w, r, urls.SignInPattern)
}
