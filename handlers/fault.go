package handlers

import (
	"net/http"

	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowFault is the page on which faults are reported and cleared.
func (s *Screens) ShowFault(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.FaultPage(runFrame(r, v, words.Say("Faults")), v))
}
