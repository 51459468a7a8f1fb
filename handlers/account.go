package handlers

import (
	"net/http"

	"settlemark/templates"
	"settlemark/web/respond"
)

// Account shows a person who they are here and lets them sign out everywhere.
func (s *Screens) Account(w http.ResponseWriter, r *http.Request) error {
	sites, err := s.DB.Sites(r.Context())
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.AccountPage(respond.Frame(r, "Account", templates.Account), sites))
}
