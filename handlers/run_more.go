package handlers

import (
	"net/http"

	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowMore is the page of what is no line of the procedure.
func (s *Screens) ShowMore(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.MorePage(runFrame(r, v, words.Say("More")), v, r.URL.Query().Get("open")))
}
