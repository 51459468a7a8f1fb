package handlers

import (
	"net/http"
	"slices"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowPen says who holds the pen: its holder hands the run over there, another
// engineer takes it.
func (s *Screens) ShowPen(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	return s.penPage(w, r, v, nil)
}

// TakePen makes the person the one who records in the run.
func (s *Screens) TakePen(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "id", "form", "note")
	if err != nil {
		return err
	}
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	by := act.Author{Person: *v.Viewer, Device: session.Device(r)}
	if _, err = s.Acts.TakePen(r.Context(), by, v.Run.ID, form.Get("id"), form.Get("note"), s.Now()); err == nil {
		return respond.Redirect(w, r, urls.Run(v.Run.ID))
	}
	v.Typed = templates.Typed{Form: "pen", Values: form, Err: err}
	return s.penPage(w, r, v, err)
}

func (s *Screens) penPage(w http.ResponseWriter, r *http.Request, v templates.RunView, refused error) error {
	if err := s.withMates(r, &v); err != nil {
		return err
	}
	page := templates.PenPage(runFrame(r, v, words.Say("Hand over")), v)
	if refused != nil {
		return respond.Refused(w, r, refused, page)
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// withMates adds whom the viewer can hand the run over to.
func (s *Screens) withMates(r *http.Request, v *templates.RunView) error {
	people, err := s.DB.People(r.Context())
	v.Mates = slices.DeleteFunc(people, func(p commissioning.Person) bool {
		return p.DisabledAt != nil || p.ID == v.Viewer.ID || !p.Has(commissioning.Engineer, v.Run.Site)
	})
	return err
}
