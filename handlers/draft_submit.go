package handlers

import (
	"net/http"

	"github.com/a-h/templ"

	"settlemark/db"
	"settlemark/internal/drafting"
	"settlemark/internal/urls"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowDraftSubmit asks for the reason and shows what changes.
func (s *Screens) ShowDraftSubmit(w http.ResponseWriter, r *http.Request) error {
	draft, err := s.draft(r)
	if err != nil {
		return err
	}
	page, err := s.draftSubmitPage(r, draft, parts.Form{})
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// SubmitDraft makes the draft a revision that waits for quality.
func (s *Screens) SubmitDraft(w http.ResponseWriter, r *http.Request) error {
	draft, form, err := s.changed(r, "reason")
	if err != nil {
		return err
	}
	revision, err := s.Acts.SubmitDraft(r.Context(), session.Person(r), draft.ID, version(form), form.Get("reason"), s.Now())
	if err != nil {
		if now, readErr := s.draft(r); readErr == nil {
			draft = now
		}
		page, pageErr := s.draftSubmitPage(r, draft, parts.Form{Values: form, Err: err})
		if pageErr != nil {
			return pageErr
		}
		return respond.Refused(w, r, err, page)
	}
	return respond.Redirect(w, r, urls.Procedure(revision.Key, revision.Revision))
}

func (s *Screens) draftSubmitPage(r *http.Request, draft db.ProcedureDraft, form parts.Form) (templ.Component, error) {
	var diff []drafting.Part
	if draft.Base > 0 {
		base, err := s.DB.Procedure(r.Context(), draft.Key, draft.Base)
		if err != nil {
			return nil, err
		}
		diff = drafting.Compare(base.YAML, draft.Text)
	}
	return templates.DraftSubmitPage(draftFrame(r, draft), draftView(draft, form), diff), nil
}
