package handlers

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"settlemark/internal/commissioning"
	"settlemark/web/session"
)

// Guard asks the permission table by role before a page or a form is decoded:
// of a run at its site, of anything else at one site at least. What depends on
// the state of a run, or on who worked on it, is asked again under its lock, so
// that a form that was taken before is still answered as it was then.
func (s *Screens) Guard(a commissioning.Action, do func(http.ResponseWriter, *http.Request) error) func(http.ResponseWriter, *http.Request) error {
	return func(w http.ResponseWriter, r *http.Request) error {
		p := session.Person(r)
		if chi.URLParam(r, "run") == "" {
			if err := p.MayAnywhere(a); err != nil {
				return err
			}
			return do(w, r)
		}
		run, err := s.DB.Run(r.Context(), p, runID(r))
		if err != nil {
			return err
		}
		if err := p.May(a, run.Site); err != nil {
			return err
		}
		return do(w, r)
	}
}
