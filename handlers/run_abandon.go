package handlers

import (
	"net/http"

	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowAbandon asks why a run ends without a release.
func (s *Screens) ShowAbandon(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.AbandonPage(runFrame(r, v, words.Say("Abandon")), v))
}

// AbandonRun ends an open run without a release; its entries stay.
func (s *Screens) AbandonRun(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "reason")
	if err != nil {
		return err
	}
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	if form.Get("reason") == "" {
		err = problem.On("reason", "Say why the run is abandoned.")
	} else {
		err = s.Acts.Abandon(r.Context(), *v.Viewer, v.Run.ID, form.Get("reason"), s.Now())
	}
	if err == nil {
		return respond.Redirect(w, r, urls.Run(v.Run.ID))
	}
	v.Typed = templates.Typed{Form: "abandon", Values: form, Err: err}
	return respond.Refused(w, r, err, templates.AbandonPage(runFrame(r, v, words.Say("Abandon")), v))
}
