package handlers

import (
	"net/http"
	"net/url"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowCertificates lists the certificates that pass the filter in the address.
func (s *Screens) ShowCertificates(w http.ResponseWriter, r *http.Request) error {
	f := respond.Frame(r, words.Say("Certificates"), templates.Certificates)
	query := r.URL.Query()
	list, err := s.filtered(r, query, f.Site.TimeZone)
	form := parts.Form{Values: query, Err: err}
	v := templates.CertificatesView{List: list, Form: form, Now: s.Now(), Query: r.URL.RawQuery, Renew: map[commissioning.SiteID]bool{}}
	for _, c := range list {
		v.Renew[c.Site] = session.Person(r).May(commissioning.OpenRun, c.Site) == nil
	}
	if err != nil {
		return respond.Refused(w, r, err, templates.CertificateList(f, v))
	}
	return respond.HTML(w, r, http.StatusOK, templates.CertificateList(f, v))
}

const mostListed = 500

// filtered reads what the filter asks for. Days are days of the reader's site.
func (s *Screens) filtered(r *http.Request, query url.Values, zone string) ([]commissioning.Certificate, error) {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.ReadRuns); err != nil {
		return nil, err
	}
	from, err := day(query, "from", zone, 0)
	if err != nil {
		return nil, err
	}
	to, err := day(query, "to", zone, 1)
	if err != nil {
		return nil, err
	}
	return s.DB.Certificates(r.Context(), p, db.CertificateFilter{
		Unit: query.Get("unit"), Line: query.Get("line"), Lot: query.Get("lot"), Engineer: query.Get("engineer"),
		Status: query.Get("status"), From: from, To: to, Limit: mostListed,
	}, s.Now())
}

// day reads a date of the filter; later moves it to the end of the day.
func day(query url.Values, field, zone string, later int) (*time.Time, error) {
	text := query.Get(field)
	if text == "" {
		return nil, nil
	}
	place, err := time.LoadLocation(zone)
	if err != nil {
		place = time.UTC
	}
	at, err := time.ParseInLocation(time.DateOnly, text, place)
	if err != nil {
		return nil, problem.On(field, "Write the day as year-month-day, for example 2026-03-31.")
	}
	if later > 0 {
		at = at.AddDate(0, 0, later).Add(-time.Microsecond)
	}
	return &at, nil
}
