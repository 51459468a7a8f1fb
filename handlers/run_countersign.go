package handlers

import (
	"context"
	"net/http"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// CountersignRun releases the unit: the certificate exists from its commit on.
func (s *Screens) CountersignRun(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("head", "mismatch")...)
	if err != nil {
		return err
	}
	var number commissioning.CertificateNumber
	signing, err := signingOver(form)
	if err == nil {
		number, err = s.Acts.Countersign(r.Context(), session.Person(r), runID(r), signing, form.Get("mismatch"), s.Now())
	}
	if err != nil {
		return s.refusedReview(w, r, err, reviewForm("sign", r, err))
	}
	if err := s.issueSoon(r.Context(), number); err != nil {
		s.Log.WarnContext(r.Context(), "the certificate's file comes later", "certificate", number, "cause", err.Error()) // by the job
	}
	return respond.Redirect(w, r, urls.Certificate(number))
}

// A release is sealed within a moment; so long the answer waits, so that the
// certificate's page offers the file at once.
const (
	sealTries = 15
	sealPause = 100 * time.Millisecond
)

func (s *Screens) issueSoon(ctx context.Context, number commissioning.CertificateNumber) error {
	for tries := 1; ; tries++ {
		err := s.Acts.Issue(ctx, number)
		if problem.KindOf(err) != problem.Busy || tries == sealTries {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(sealPause):
		}
	}
}
