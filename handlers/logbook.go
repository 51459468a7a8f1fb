package handlers

import (
	"net/http"

	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowLogbook lists every entry of a run, struck ones too.
func (s *Screens) ShowLogbook(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.LogbookPage(runFrame(r, v, "Logbook"), v))
}
