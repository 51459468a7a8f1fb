package handlers

import (
	"encoding/hex"
	"errors"
	"net/http"

	"settlemark/internal/act"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
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
	return respond.HTML(w, r, http.StatusOK, templates.SubmitPage(runFrame(r, v, "Submit"), v))
}

// SubmitRun takes the engineer's signature over the head that the page showed.
func (s *Screens) SubmitRun(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "head", "nonce", "password")
	if err != nil {
		return err
	}
	head, err := hex.DecodeString(form.Get("head"))
	if err != nil {
		return problem.New(problem.Invalid, "This form is not one of ours. Reload the page and sign there.")
	}
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	signing := act.Signing{Head: head, Password: form.Get("password"), Nonce: form.Get("nonce")}
	if signing.Password == "" {
		err = problem.On("password", "Type your password to sign.")
	} else {
		err = s.Acts.Submit(r.Context(), *v.Viewer, v.Run.ID, signing, s.Now())
	}
	if err == nil {
		return respond.Redirect(w, r, urls.Run(v.Run.ID))
	}
	if errors.Is(err, act.ErrSessionOver) {
		if out := session.SignOut(w, r); out != nil {
			return out
		}
		return err
	}
	form.Del("password")
	v.Typed = templates.Typed{Form: "submit", Values: form, Err: err}
	return respond.Refused(w, r, err, templates.SubmitPage(runFrame(r, v, "Submit"), v))
}
