package handlers

import (
	"net/http"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowWithdraw asks quality for the reason.
func (s *Screens) ShowWithdraw(w http.ResponseWriter, r *http.Request) error {
	if err := session.Person(r).MayAnywhere(commissioning.Withdraw); err != nil {
		return err
	}
	page, err := s.certificatePage(r, parts.Form{}, true)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// Withdraw withdraws a certificate. The PDF stays as it is; every later
// look-up says that it is withdrawn, and why.
func (s *Screens) Withdraw(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("reason")...)
	if err != nil {
		return err
	}
	number := certificateNumber(r)
	if form.Get("reason") == "" {
		err = problem.On("reason", "Say why this certificate is withdrawn.")
	} else {
		err = s.Acts.Withdraw(r.Context(), session.Person(r), number, form.Get("reason"), signingOf(form), s.Now())
	}
	if err != nil {
		page, pageErr := s.certificatePage(r, parts.Form{Values: form, Err: err}, true)
		if pageErr != nil {
			return pageErr
		}
		return s.proofRefused(w, r, err, page)
	}
	return respond.Redirect(w, r, urls.Certificate(number))
}
