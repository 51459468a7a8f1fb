package handlers

import (
	"net/http"
	"slices"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/templates"
	"settlemark/web/session"
)

// mostSticks of a unit's history are drawn; each abandoned run among them is
// read with its logbook.
const mostSticks = 30

// unitHistory reads runs, certificates and events of the unit, and what stands.
func (s *Screens) unitHistory(r *http.Request, v *templates.UnitView) error {
	p := session.Person(r)
	runs, err := s.DB.UnitRuns(r.Context(), p, v.Unit.Tag)
	if err != nil {
		return err
	}
	issued, err := s.DB.Certificates(r.Context(), p, db.CertificateFilter{OfUnit: v.Unit.Tag, Limit: len(runs) + 1}, v.Now)
	if err != nil {
		return err
	}
	events, err := s.DB.UnitEvents(r.Context(), p, v.Unit.Tag)
	if err != nil {
		return err
	}
	byRun := map[commissioning.RunID]*commissioning.Certificate{}
	for i := range issued {
		byRun[issued[i].Run] = &issued[i]
		if issued[i].SupersededBy == "" {
			v.Newest = &issued[i]
		}
	}
	for i := range runs {
		line := templates.UnitLine{Run: &runs[i], Certificate: byRun[runs[i].ID]}
		if i < mostSticks {
			if line.Stick, err = s.stick(r, runs[i]); err != nil {
				return err
			}
		}
		v.History = append(v.History, line)
	}
	for i := range events {
		v.History = append(v.History, templates.UnitLine{Event: &events[i]})
	}
	slices.SortStableFunc(v.History, func(a, b templates.UnitLine) int { return b.At().Compare(a.At()) })
	return nil
}

// stick gives the state of each section. What was signed is done to its end;
// any other run is judged.
func (s *Screens) stick(r *http.Request, run commissioning.Run) ([]string, error) {
	if run.State == commissioning.Released || run.State == commissioning.Submitted {
		procedure, err := s.DB.Procedure(r.Context(), run.Procedure, run.Revision)
		return slices.Repeat([]string{"done"}, len(procedure.Sections)), err
	}
	book, err := s.DB.Logbook(r.Context(), session.Person(r), run.ID)
	if err != nil {
		return nil, err
	}
	at := s.Now()
	if run.AbandonedAt != nil {
		at = *run.AbandonedAt
	}
	return viewOf(book, at).Stick(), nil
}
