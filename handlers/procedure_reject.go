package handlers

import (
	"net/http"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowRejectProcedure asks for the reason and a proof of identity.
func (s *Screens) ShowRejectProcedure(w http.ResponseWriter, r *http.Request) error {
	revision, err := s.revision(r)
	if err != nil {
		return err
	}
	v, over := s.rejection(revision)
	return s.showProven(w, r, v, over)
}

// RejectProcedure refuses a revision, with a reason.
func (s *Screens) RejectProcedure(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields("reason")...)
	if err != nil {
		return err
	}
	revision, err := s.revision(r)
	if err != nil {
		return err
	}
	err = s.Acts.RejectProcedure(r.Context(), session.Person(r), revision.Key, revision.Revision, form.Get("reason"), signingOf(form), s.Now())
	if err == nil {
		return respond.Redirect(w, r, urls.Procedure(revision.Key, revision.Revision))
	}
	v, over := s.rejection(revision)
	return s.provenRefused(w, r, v, over, form, err)
}

func (s *Screens) rejection(revision db.ProcedureRevision) (templates.ChangeView, prover) {
	return templates.ChangeView{
		Title:  words.Say("Reject revision %d of %s", revision.Revision, revision.Title),
		Lead:   words.Say("It stays readable with your reason, and can't be approved any more. Its authors may draft the next one from it."),
		Button: words.Say("Reject revision %d", revision.Revision), Look: "danger",
		Here: templates.Procedures, Back: urls.Procedure(revision.Key, revision.Revision), Action: urls.Reject(revision.Key, revision.Revision),
		Field: &parts.Input{Name: "reason", Label: words.Say("What is wrong with it"), Rows: 2, Required: true, MaxLength: 2000},
	}, s.over(act.RejectionContent(revision.Key, revision.Revision, revision.SHA256), "reason")
}
