package handlers

import (
	"net/http"

	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowClauses maps what auditors ask to where it is met.
func (s *Screens) ShowClauses(w http.ResponseWriter, r *http.Request) error {
	return respond.HTML(w, r, http.StatusOK, templates.ClausesPage(respond.Frame(r, words.Say("What auditors ask"), templates.Trail)))
}
