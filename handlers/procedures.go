package handlers

import (
	"net/http"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowProcedures lists all revisions, newest first per procedure.
func (s *Screens) ShowProcedures(w http.ResponseWriter, r *http.Request) error {
	if err := session.Person(r).MayAnywhere(commissioning.ReadProcedures); err != nil {
		return err
	}
	revisions, err := s.DB.Procedures(r.Context())
	if err != nil {
		return err
	}
	var views []templates.RevisionView
	for _, revision := range revisions {
		views = append(views, revisionView(revision))
	}
	return respond.HTML(w, r, http.StatusOK, templates.ProcedureList(respond.Frame(r, "Procedures", templates.Procedures), views))
}

func revisionView(p db.ProcedureRevision) templates.RevisionView {
	return templates.RevisionView{
		Procedure: p.Procedure, YAML: p.YAML, SHA256: p.SHA256, Author: p.AuthorName,
		ApprovedBy: p.ApprovedBy, ApprovedAt: p.ApprovedAt, Demo: p.Demo,
	}
}
