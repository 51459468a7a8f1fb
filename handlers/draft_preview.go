package handlers

import (
	"net/http"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
)

// ShowDraftPreview shows a draft with the cards of the run page, as a run that
// nobody opened.
func (s *Screens) ShowDraftPreview(w http.ResponseWriter, r *http.Request) error {
	draft, err := s.draft(r)
	if err != nil {
		return err
	}
	f := draftFrame(r, draft)
	v := draftView(draft, parts.Form{})
	procedure, err := commissioning.ParseProcedure([]byte(draft.Text))
	if err != nil {
		return respond.HTML(w, r, http.StatusOK, templates.DraftPreviewPage(f, v, nil))
	}
	book := db.Book{
		Run:       commissioning.Run{ID: "preview", State: commissioning.Open, Round: 1, OpenedAt: s.Now()},
		Unit:      commissioning.Unit{Tag: "–", Ink: "the unit's ink", Makeup: "the unit's make-up"},
		Site:      f.Site,
		Procedure: db.ProcedureRevision{Procedure: procedure},
	}
	run := viewOf(book, s.Now())
	run.Preview = true
	return respond.HTML(w, r, http.StatusOK, templates.DraftPreviewPage(f, v, &run))
}
