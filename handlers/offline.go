package handlers

import (
	"net/http"

	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowOffline is the page of what is on this tablet. The tablet keeps a copy of
// it as a stranger sees it, and its script fills in what the tablet holds.
func (s *Screens) ShowOffline(w http.ResponseWriter, r *http.Request) error {
	return respond.HTML(w, r, http.StatusOK, templates.OfflinePage(respond.Frame(r, words.Say("On this tablet"), templates.OnTablet)))
}
