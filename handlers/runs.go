package handlers

import (
	"net/http"
	"slices"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// mostRuns of the list are read with their logbooks.
const mostRuns = 40

// ShowRuns lists the runs that the person opened, holds or worked on.
func (s *Screens) ShowRuns(w http.ResponseWriter, r *http.Request) error {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.OpenRun); err != nil {
		return err
	}
	runs, err := s.DB.MyRuns(r.Context(), p)
	if err != nil {
		return err
	}
	var views []templates.RunView
	for _, run := range runs[:min(len(runs), mostRuns)] {
		book, err := s.DB.Logbook(r.Context(), p, run.ID)
		if err != nil {
			return err
		}
		v := viewOf(book, s.Now())
		v.Viewer = &p
		views = append(views, v)
	}
	ending, err := s.toRenew(r)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.RunsPage(respond.Frame(r, words.Say("My runs"), templates.MyRuns), views, ending))
}

// toRenew gives the releases that end soon, the nearest first, of units on
// which the person may open a run and nobody has.
func (s *Screens) toRenew(r *http.Request) ([]commissioning.Certificate, error) {
	p := session.Person(r)
	ending, err := s.DB.Certificates(r.Context(), p, db.CertificateFilter{Status: commissioning.EndingSoon}, s.Now())
	if err != nil || len(ending) == 0 {
		return nil, err
	}
	live, err := s.DB.LiveUnits(r.Context(), p)
	if err != nil {
		return nil, err
	}
	ending = slices.DeleteFunc(ending, func(c commissioning.Certificate) bool {
		return p.May(commissioning.OpenRun, c.Site) != nil || slices.Contains(live, c.Unit)
	})
	slices.SortStableFunc(ending, func(a, b commissioning.Certificate) int { return a.ValidUntil.Compare(*b.ValidUntil) })
	return ending, nil
}
