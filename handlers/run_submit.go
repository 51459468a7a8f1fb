package handlers

import (
	"errors"
	"net/http"

	"settlemark/internal/act"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowSubmit shows what the engineer signs, odd things first.
func (s *Screens) ShowSubmit(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	proving, err := s.proving(r, v.Run.Head)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.SubmitPage(runFrame(r, v, words.Say("Submit")), v, proving))
}

// SubmitRun takes the engineer's signature over the head that the page showed.
func (s *Screens) SubmitRun(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("head")...)
	if err != nil {
		return err
	}
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	signing, err := signingOver(form)
	if err == nil {
		err = s.Acts.Submit(r.Context(), *v.Viewer, v.Run.ID, signing, s.Now())
	}
	if err == nil {
		return respond.Redirect(w, r, urls.Run(v.Run.ID))
	}
	if errors.Is(err, act.ErrSessionOver) {
		if out := session.SignOut(r); out != nil {
			return out
		}
		return err
	}
	v.Typed = templates.Typed{Form: "submit", Values: form, Err: err}
	proving, provingErr := s.proving(r, v.Run.Head)
	if provingErr != nil {
		return provingErr
	}
	return respond.Refused(w, r, err, templates.SubmitPage(runFrame(r, v, words.Say("Submit")), v, proving))
}
