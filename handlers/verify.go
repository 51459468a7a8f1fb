package handlers

import (
	"net/http"

	"github.com/go-chi/chi/v5/middleware"

	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
)

// Verify says to anybody with the code of a certificate what it is worth today.
func (s *Screens) Verify(w http.ResponseWriter, r *http.Request) error {
	f := respond.Frame(r, words.Say("Check a certificate"), templates.Certificates)
	v := templates.VerifyView{Form: parts.Form{Values: r.URL.Query()}, Now: s.Now()}
	code := r.URL.Query().Get("code")
	if code == "" {
		return respond.HTML(w, r, http.StatusOK, templates.VerifyPage(f, v))
	}
	found, err := s.Acts.LookUp(r.Context(), code, middleware.GetClientIP(r.Context()), s.Now())
	switch problem.KindOf(err) {
	case problem.NotFound:
		v.Unknown = "code"
		return respond.HTML(w, r, http.StatusNotFound, templates.VerifyPage(f, v))
	case problem.Invalid, problem.Busy, problem.TooMany:
		v.Form.Err = err
		return respond.Refused(w, r, err, templates.VerifyPage(f, v))
	}
	if err != nil {
		return err
	}
	v.Found = &found
	return respond.HTML(w, r, http.StatusOK, templates.VerifyPage(f, v))
}
