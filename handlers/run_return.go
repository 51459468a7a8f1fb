package handlers

import (
	"net/http"

	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ReturnRun sends a run back to its engineer with the reason.
func (s *Screens) ReturnRun(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "head", "reason")
	if err != nil {
		return err
	}
	head, err := headShown(form)
	if err == nil && form.Get("reason") == "" {
		err = problem.On("reason", "Say what the engineer must do.")
	}
	if err == nil {
		err = s.Acts.Return(r.Context(), session.Person(r), runID(r), head, form.Get("reason"), s.Now())
	}
	if err != nil {
		return s.refusedReview(w, r, err, reviewForm("return", r, err))
	}
	return respond.Redirect(w, r, urls.BoardPattern)
}
