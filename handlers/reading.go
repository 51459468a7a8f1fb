package handlers

import (
	"net/http"

	"github.com/a-h/templ"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
)

// ShowReading is the pad for one quantity, the viscosity when none is named.
func (s *Screens) ShowReading(w http.ResponseWriter, r *http.Request) error {
	v, err := s.runView(r)
	if err != nil {
		return err
	}
	quantity := r.URL.Query().Get("quantity")
	if quantity == "" {
		quantity = v.Viscosity()
	}
	page, err := s.readingPage(r, v, quantity)
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

func (s *Screens) readingPage(r *http.Request, v templates.RunView, quantity string) (templ.Component, error) {
	q, ok := v.Quantity(quantity)
	if !ok {
		return nil, problem.New(problem.NotFound, "This procedure does not read %q. Go back to the run and choose what is read.", quantity)
	}
	v.Section = min(v.Here(), len(v.Procedure.Sections)-1)
	pad := templates.Pad{Quantity: q}
	if q.State == nil { // any number will do: what is wanted are target and limits of now
		pad.Gauge = hypothetical(v, commissioning.Entry{
			Kind: commissioning.KindReading, Quantity: q.Key, Value: "1", Unit: q.Unit, ObservedAt: v.Now,
		})
	}
	return templates.ReadingPage(runFrame(r, v, words.Say("Type a reading")), v, pad), nil
}
