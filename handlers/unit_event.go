package handlers

import (
	"net/http"
	"net/url"
	"time"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowUnitEvent asks what happened to the unit, and says what that ends.
func (s *Screens) ShowUnitEvent(w http.ResponseWriter, r *http.Request) error {
	page, err := s.unitEventPage(r, parts.Form{Values: url.Values{"id": {newID()}}})
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// RecordUnitEvent records an event; the certificate that stands is withdrawn
// with it.
func (s *Screens) RecordUnitEvent(w http.ResponseWriter, r *http.Request) error {
	p := session.Person(r)
	unit, err := s.DB.Unit(r.Context(), p, chi.URLParam(r, "tag"))
	if err != nil {
		return err
	}
	if err := p.May(commissioning.RecordUnitEvent, unit.Site); err != nil {
		return err
	}
	form, err := decodeForm(r, "id", "kind", "happened", "detail")
	if err != nil {
		return err
	}
	site, err := s.DB.Site(r.Context(), unit.Site)
	if err != nil {
		return err
	}
	happened, err := whenHappened(form, site.TimeZone, s.Now())
	if err == nil {
		_, err = s.Acts.RecordUnitEvent(r.Context(), p, commissioning.UnitEvent{
			ID: form.Get("id"), Unit: unit.Tag, Kind: commissioning.EventKind(form.Get("kind")),
			Detail: form.Get("detail"), HappenedAt: happened,
		}, s.Now())
	}
	if err != nil {
		page, pageErr := s.unitEventPage(r, parts.Form{Values: form, Err: err})
		if pageErr != nil {
			return pageErr
		}
		return respond.Refused(w, r, err, page)
	}
	return respond.Redirect(w, r, urls.Unit(unit.Tag))
}

// whenHappened reads the time of the form, now where it is left empty. A time
// is given to the minute and stands for its end: what happened in the minute in
// which the engineer signed is taken to have come after.
func whenHappened(form url.Values, zone string, now time.Time) (time.Time, error) {
	text := form.Get("happened")
	if text == "" {
		return now, nil
	}
	place, err := time.LoadLocation(zone)
	if err != nil {
		place = time.UTC
	}
	at, err := time.ParseInLocation("2006-01-02T15:04", text, place)
	if err != nil {
		return at, problem.On("happened", "Give day and time, or leave it empty if it was just now.")
	}
	if end := at.Add(time.Minute - time.Microsecond); at.Before(now) {
		return earlier(end, now), nil
	}
	return at, nil
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

func (s *Screens) unitEventPage(r *http.Request, form parts.Form) (templ.Component, error) {
	p := session.Person(r)
	unit, err := s.DB.Unit(r.Context(), p, chi.URLParam(r, "tag"))
	if err != nil {
		return nil, err
	}
	if err := p.May(commissioning.RecordUnitEvent, unit.Site); err != nil {
		return nil, err
	}
	v := templates.UnitEventView{Unit: unit, Form: form}
	valid, err := s.DB.Certificates(r.Context(), p, db.CertificateFilter{
		OfUnit: unit.Tag, Status: string(commissioning.Valid),
	}, s.Now())
	if err != nil {
		return nil, err
	}
	if len(valid) > 0 {
		v.Stands = &valid[0]
		run, err := s.DB.Run(r.Context(), p, v.Stands.Run)
		if err != nil {
			return nil, err
		}
		procedure, err := s.DB.Procedure(r.Context(), run.Procedure, run.Revision)
		if err != nil {
			return nil, err
		}
		v.VoidedBy = procedure.VoidedBy
	}
	return templates.UnitEventPage(respond.Frame(r, words.Say("What happened to %s", unit.Tag), templates.Units), v), nil
}
