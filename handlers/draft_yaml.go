package handlers

import (
	"net/http"
	"strings"

	"settlemark/internal/drafting"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowDraftYAML is a draft as text.
func (s *Screens) ShowDraftYAML(w http.ResponseWriter, r *http.Request) error {
	draft, err := s.draft(r)
	if err != nil {
		return err
	}
	v := templates.DraftYAMLView{DraftView: draftView(draft, parts.Form{}), Typed: draft.Text}
	return respond.HTML(w, r, http.StatusOK, templates.DraftYAMLPage(draftFrame(r, draft), v))
}

// SaveDraftYAML stores the text, errors and all. What could not be stored comes
// back in the box, beside what somebody else saved in between.
func (s *Screens) SaveDraftYAML(w http.ResponseWriter, r *http.Request) error {
	draft, err := s.draft(r)
	if err != nil {
		return err
	}
	if err := r.ParseForm(); err != nil {
		return tooLargeOrBroken(err)
	}
	typed := strings.ToValidUTF8(strings.ReplaceAll(r.PostForm.Get("text"), "\r\n", "\n"), "\uFFFD")
	_, err = s.Acts.SaveDraft(r.Context(), session.Person(r), draft.ID, version(r.PostForm), r.PostForm.Get("text"), s.Now())
	if err == nil {
		return respond.Redirect(w, r, urls.DraftYAML(draft.ID))
	}
	if problem.KindOf(err) == problem.Conflict {
		if draft, readErr := s.draft(r); readErr == nil {
			v := templates.DraftYAMLView{DraftView: draftView(draft, parts.Form{Err: err}), Typed: typed, Theirs: drafting.Compare(draft.Text, typed)}
			return respond.Refused(w, r, err, templates.DraftYAMLPage(draftFrame(r, draft), v))
		}
	}
	v := templates.DraftYAMLView{DraftView: draftView(draft, parts.Form{Err: err}), Typed: typed}
	return respond.Refused(w, r, err, templates.DraftYAMLPage(draftFrame(r, draft), v))
}
