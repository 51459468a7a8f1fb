package handlers

import (
	"net/http"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// CountersignRun releases the unit: the certificate exists from its commit on.
func (s *Screens) CountersignRun(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "head", "nonce", "password", "mismatch")
	if err != nil {
		return err
	}
	var number commissioning.CertificateNumber
	head, err := headShown(form)
	if err == nil {
		signing := act.Signing{Head: head, Password: form.Get("password"), Nonce: form.Get("nonce")}
		number, err = s.Acts.Countersign(r.Context(), session.Person(r), runID(r), signing, form.Get("mismatch"), s.Now())
	}
	if err != nil {
		return s.refusedReview(w, r, err, reviewForm("sign", r, err))
	}
	if err := s.Acts.Issue(r.Context(), number); err != nil {
		s.Log.ErrorContext(r.Context(), "issue", "certificate", number, "error", err.Error()) // the job makes it again
	}
	return respond.Redirect(w, r, urls.Certificate(number))
}
