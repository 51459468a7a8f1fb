package handlers

import (
	"net/http"

	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowPen says who holds the pen, and lets another engineer take it.
func (s *Screens) ShowPen(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.PenPage(runFrame(r, v, words.Say("Hand over")), v))
}

// TakePen makes the person the one who records in the run.
func (s *Screens) TakePen(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "id", "form", "note")
	if err != nil {
		return err
	}
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	if _, err = s.Acts.TakePen(r.Context(), *v.Viewer, v.Run.ID, form.Get("note"), s.Now()); err == nil {
		return respond.Redirect(w, r, urls.Run(v.Run.ID))
	}
	v.Typed = templates.Typed{Form: "pen", Values: form, Err: err}
	return respond.Refused(w, r, err, templates.PenPage(runFrame(r, v, words.Say("Hand over")), v))
}
