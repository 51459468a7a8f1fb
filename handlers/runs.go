package handlers

import (
	"net/http"

	"settlemark/internal/commissioning"
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
	return respond.HTML(w, r, http.StatusOK, templates.RunsPage(respond.Frame(r, "My runs", templates.MyRuns), views))
}
