package handlers

import (
	"errors"
	"net/http"
	"strconv"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
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
	return respond.HTML(w, r, http.StatusOK, procedurePage(r, revision, parts.Form{}))
}

// ApproveProcedure approves a revision, with the approver's password again.
func (s *Screens) ApproveProcedure(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "password")
	if err != nil {
		return err
	}
	revision, err := s.revision(r)
	if err != nil {
		return err
	}
	err = s.Acts.ApproveProcedure(r.Context(), session.Person(r), revision.Key, revision.Revision, form.Get("password"), s.Now())
	if err != nil {
		return s.proofRefused(w, r, err, procedurePage(r, revision, parts.Form{Values: form, Err: err}))
	}
	return respond.Redirect(w, r, urls.Procedure(revision.Key, revision.Revision))
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

func procedurePage(r *http.Request, revision db.ProcedureRevision, form parts.Form) templ.Component {
	may := session.Person(r).MayAnywhere(commissioning.ApproveProcedure) == nil
	f := respond.Frame(r, revision.Title, templates.Procedures)
	return templates.ProcedurePage(f, revisionView(revision), may, form)
}

// proofRefused shows the form again after a proof of identity was refused, and
// ends the session after too many of them.
func (s *Screens) proofRefused(w http.ResponseWriter, r *http.Request, err error, page templ.Component) error {
	if errors.Is(err, act.ErrSessionOver) {
		if out := session.SignOut(w, r); out != nil {
			return out
		}
	}
	return respond.Refused(w, r, err, page)
}
