package handlers

import (
	"net/http"
	"strings"

	"github.com/a-h/templ"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowProcedures lists all revisions, newest first per procedure, and the drafts.
func (s *Screens) ShowProcedures(w http.ResponseWriter, r *http.Request) error {
	page, err := s.procedureList(r, parts.Form{})
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

func (s *Screens) procedureList(r *http.Request, form parts.Form) (templ.Component, error) {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.ReadProcedures); err != nil {
		return nil, err
	}
	revisions, err := s.DB.Procedures(r.Context())
	if err != nil {
		return nil, err
	}
	var views []templates.RevisionView
	for _, revision := range revisions {
		views = append(views, revisionView(revision))
	}
	drafts, err := s.DB.Drafts(r.Context())
	if err != nil {
		return nil, err
	}
	var lines []templates.DraftLine
	for _, d := range drafts {
		v := draftView(d, parts.Form{})
		lines = append(lines, templates.DraftLine{ID: d.ID, Key: d.Key, Title: v.Title, Authors: strings.Join(d.Authors, ", "), Wrong: len(v.Refusals)})
	}
	may := p.MayAnywhere(commissioning.DraftProcedure) == nil
	return templates.ProcedureList(respond.Frame(r, words.Say("Procedures"), templates.Procedures), views, lines, may, form), nil
}

func revisionView(p db.ProcedureRevision) templates.RevisionView {
	return templates.RevisionView{
		Procedure: p.Procedure, YAML: p.YAML, SHA256: p.SHA256, Author: p.AuthorName, Authors: p.Authors, Reason: p.Reason, AddedAt: p.AddedAt,
		ApprovedBy: p.ApprovedBy, ApprovedAt: p.ApprovedAt,
		RejectedBy: p.Rejected.By, RejectedAt: p.Rejected.At, Rejection: p.Rejected.Reason,
		RetiredBy: p.Retired.By, RetiredAt: p.Retired.At, Retirement: p.Retired.Reason, Demo: p.Demo,
	}
}
