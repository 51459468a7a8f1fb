package handlers

import (
	"net/http"

	"settlemark/internal/urls"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ReadSample keeps what the countersigner read off the print sample, before
// anything shows them what the engineer read.
func (s *Screens) ReadSample(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "text")
	if err != nil {
		return err
	}
	if err := s.Acts.ReadSample(r.Context(), session.Person(r), runID(r), form.Get("text"), s.Now()); err != nil {
		return s.refusedReview(w, r, err, reviewForm("sample", r, err))
	}
	return respond.Redirect(w, r, urls.Review(runID(r)))
}
