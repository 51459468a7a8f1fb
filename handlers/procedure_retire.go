package handlers

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"settlemark/internal/act"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowRetireProcedure asks for the reason and a proof of identity.
func (s *Screens) ShowRetireProcedure(w http.ResponseWriter, r *http.Request) error {
	v, over, err := s.retirement(r)
	if err != nil {
		return err
	}
	return s.showProven(w, r, v, over)
}

// RetireProcedure keeps new runs from a procedure, with a reason.
func (s *Screens) RetireProcedure(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("reason")...)
	if err != nil {
		return err
	}
	key := chi.URLParam(r, "key")
	err = s.Acts.RetireProcedure(r.Context(), session.Person(r), key, form.Get("reason"), signingOf(form), s.Now())
	if err == nil {
		return respond.Redirect(w, r, urls.History(key))
	}
	v, over, viewErr := s.retirement(r)
	if viewErr != nil {
		return viewErr
	}
	return s.provenRefused(w, r, v, over, form, err)
}

func (s *Screens) retirement(r *http.Request) (v templates.ChangeView, over prover, err error) {
	key := chi.URLParam(r, "key")
	revisions, err := s.DB.Revisions(r.Context(), key)
	if err != nil {
		return v, nil, err
	}
	v = templates.ChangeView{
		Title:  words.Say("Retire the procedure “%s”", revisions[0].Title),
		Lead:   words.Say("No run can be opened with its revisions from then on. Runs that are open go on. A revision that is submitted and approved later brings the procedure back."),
		Button: words.Say("Retire the procedure"), Look: "danger",
		Here: templates.Procedures, Back: urls.History(key), Action: urls.Retire(key),
		Field: &parts.Input{Name: "reason", Label: words.Say("Reason"), Rows: 2, Required: true, MaxLength: 2000},
	}
	return v, s.over(act.RetirementContent(key, revisions[0].Revision), "reason"), nil
}
