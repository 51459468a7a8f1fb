package handlers

import (
	"net/http"
	"slices"
	"strconv"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowProcedure shows one revision as the engineer will see it.
func (s *Screens) ShowProcedure(w http.ResponseWriter, r *http.Request) error {
	revision, err := s.revision(r)
	if err != nil {
		return err
	}
	page, err := s.procedurePage(r, revision, parts.Form{})
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// ApproveProcedure approves a revision, with the approver's proof of identity.
func (s *Screens) ApproveProcedure(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, signedFields()...)
	if err != nil {
		return err
	}
	revision, err := s.revision(r)
	if err != nil {
		return err
	}
	err = s.Acts.ApproveProcedure(r.Context(), session.Person(r), revision.Key, revision.Revision, signingOf(form), s.Now())
	if err == nil {
		return respond.Redirect(w, r, urls.Procedure(revision.Key, revision.Revision))
	}
	page, pageErr := s.procedurePage(r, revision, parts.Form{Values: form, Err: err})
	if pageErr != nil {
		return pageErr
	}
	return s.proofRefused(w, r, err, page)
}

func (s *Screens) revision(r *http.Request) (db.ProcedureRevision, error) {
	if err := session.Person(r).MayAnywhere(commissioning.ReadProcedures); err != nil {
		return db.ProcedureRevision{}, err
	}
	revision, err := strconv.Atoi(chi.URLParam(r, "revision"))
	if err != nil {
		return db.ProcedureRevision{}, problem.New(problem.NotFound, "There is no such revision. Choose one from the list of procedures.")
	}
	return s.DB.Procedure(r.Context(), chi.URLParam(r, "key"), revision)
}

func (s *Screens) procedurePage(r *http.Request, revision db.ProcedureRevision, form parts.Form) (templ.Component, error) {
	p := session.Person(r)
	may := templates.RevisionRights{
		Draft:  p.MayAnywhere(commissioning.DraftProcedure) == nil,
		Decide: p.MayAnywhere(commissioning.ApproveProcedure) == nil,
		Wrote:  slices.Contains(revision.AuthorIDs, p.ID),
	}
	var err error
	if may.Drafted, err = s.draftOf(r, revision.Key); err != nil {
		return nil, err
	}
	if may.Decide && !may.Wrote && revision.ApprovedAt == nil {
		if may.Proving, err = s.proving(r, act.ApprovalContent(revision.Key, revision.Revision, revision.SHA256)); err != nil {
			return nil, err
		}
	}
	f := respond.Frame(r, words.Plain(revision.Title), templates.Procedures)
	return templates.ProcedurePage(f, revisionView(revision), may, form), nil
}
