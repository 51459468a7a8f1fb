package handlers

import (
	"net/http"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

	"settlemark/internal/commissioning"
	"settlemark/internal/drafting"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowHistory is every revision of a procedure: who, when and why.
func (s *Screens) ShowHistory(w http.ResponseWriter, r *http.Request) error {
	page, err := s.historyPage(r)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

func (s *Screens) historyPage(r *http.Request) (templ.Component, error) {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.ReadProcedures); err != nil {
		return nil, err
	}
	revisions, err := s.DB.Revisions(r.Context(), chi.URLParam(r, "key"))
	if err != nil {
		return nil, err
	}
	v := templates.HistoryView{
		MayDraft: p.MayAnywhere(commissioning.DraftProcedure) == nil, MayRetire: p.MayAnywhere(commissioning.RetireProcedure) == nil,
	}
	for _, revision := range revisions {
		v.Revisions = append(v.Revisions, revisionView(revision))
	}
	if v.Draft, err = s.draftOf(r, chi.URLParam(r, "key")); err != nil {
		return nil, err
	}
	return templates.HistoryPage(respond.Frame(r, words.Say("%s, history", v.Revisions[0].Title), templates.Procedures), v), nil
}

// draftOf gives the draft of a procedure, 0 where there is none.
func (s *Screens) draftOf(r *http.Request, key string) (int64, error) {
	drafts, err := s.DB.Drafts(r.Context())
	for _, d := range drafts {
		if d.Key == key {
			return d.ID, err
		}
	}
	return 0, err
}

// CompareRevisions shows what differs between two revisions, line by line.
func (s *Screens) CompareRevisions(w http.ResponseWriter, r *http.Request) error {
	if err := session.Person(r).MayAnywhere(commissioning.ReadProcedures); err != nil {
		return err
	}
	revisions, err := s.DB.Revisions(r.Context(), chi.URLParam(r, "key"))
	if err != nil {
		return err
	}
	two := map[int]templates.RevisionView{}
	for _, revision := range revisions {
		two[revision.Revision] = revisionView(revision)
	}
	from, fromKnown := two[number1(r, "from")]
	to, toKnown := two[number1(r, "to")]
	if !fromKnown || !toKnown {
		return problem.New(problem.NotFound, "There are no two such revisions. Choose them on the page of the procedure's history.")
	}
	f := respond.Frame(r, words.Say("%s, compared", to.Title), templates.Procedures)
	return respond.HTML(w, r, http.StatusOK, templates.ComparePage(f, from, to, drafting.Compare(from.YAML, to.YAML)))
}
