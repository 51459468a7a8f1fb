package handlers

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowCorrection asks for the reason why an entry is struck out.
func (s *Screens) ShowCorrection(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	e, ok := v.Standing(chi.URLParam(r, "seq"))
	if !ok {
		return problem.New(problem.NotFound, "There is no entry %q in this run. Open the logbook and start from there.", chi.URLParam(r, "seq"))
	}
	v.Saved = 0
	return respond.HTML(w, r, http.StatusOK, templates.CorrectionPage(runFrame(r, v, words.Say("Correct an entry")), v, e))
}
