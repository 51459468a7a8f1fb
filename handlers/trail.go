package handlers

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

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

// trailPage is how many lines one page of the trail has.
const trailPage = 100

// ShowTrail is who did what when, over all that the reader may see.
func (s *Screens) ShowTrail(w http.ResponseWriter, r *http.Request) error {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.ReadTrail); err != nil {
		return err
	}
	f := respond.Frame(r, words.Say("Audit trail"), templates.Trail)
	query := r.URL.Query()
	v := templates.TrailView{
		Form: parts.Form{Values: query}, Query: filterQuery(query), Newer: query.Get("before") != "", Zone: f.Site.TimeZone,
		Aside: p.MayAnywhere(commissioning.ReadSetAside) == nil, All: p.MayAnywhere(commissioning.ReadRuns) == nil,
	}
	filter, err := trailFilter(query, f.Site.TimeZone)
	if err == nil {
		filter.Limit = trailPage + 1
		v.Lines, v.Older, err = s.trailLines(r, filter, v.Query)
	}
	if err != nil {
		v.Form.Err = err
		return respond.Refused(w, r, err, templates.TrailPage(f, v))
	}
	return respond.HTML(w, r, http.StatusOK, templates.TrailPage(f, v))
}

// trailLines reads one page and the address of the next.
func (s *Screens) trailLines(r *http.Request, filter db.TrailFilter, query string) ([]templates.TrailLine, string, error) {
	rows, err := s.DB.Trail(r.Context(), session.Person(r), filter)
	if err != nil {
		return nil, "", err
	}
	older := ""
	if len(rows) > trailPage {
		rows = rows[:trailPage]
		older = urls.TrailPattern + "?" + strings.TrimPrefix(query+"&before="+url.QueryEscape(placeText(rows[trailPage-1].Place())), "&")
	}
	lines, err := s.told(r, rows)
	return lines, older, err
}

// told puts rows of the trail into words.
func (s *Screens) told(r *http.Request, rows []db.TrailRow) ([]templates.TrailLine, error) {
	entries, err := s.DB.TrailEntries(r.Context(), rows)
	if err != nil {
		return nil, err
	}
	names, err := s.DB.Names(r.Context())
	if err != nil {
		return nil, err
	}
	byCode := map[string]string{}
	for code, name := range names {
		byCode[string(code)] = name
	}
	lines := make([]templates.TrailLine, 0, len(rows))
	for _, row := range rows {
		l := templates.TrailLine{
			ID: row.ID, StoredAt: row.StoredAt, ObservedAt: row.ObservedAt, By: row.By, Name: row.Name, Kind: row.Kind,
			Unit: row.Unit, SiteName: row.SiteName, TimeZone: row.TimeZone,
		}
		if row.RunNumber != 0 {
			l.RunNumber = row.RunNumber.String()
		}
		if row.Act {
			toldAct(&l, row)
		} else {
			toldEntry(&l, row, entries[row.ID], byCode)
		}
		lines = append(lines, l)
	}
	return lines, nil
}

func toldAct(l *templates.TrailLine, row db.TrailRow) {
	l.What, l.Found = templates.ActName(row.Kind), words.Plain(row.Subject)
	l.Was, l.Became = templates.RegisterSaid(row.Was, row.Became)
	if row.Became == "" {
		l.Detail = row.Detail
	}
	switch {
	case strings.HasPrefix(row.Subject, "C-"):
		l.URL = urls.Certificate(commissioning.CertificateNumber(row.Subject))
	case row.Run != "":
		l.URL = urls.Run(row.Run)
	case row.Unit != "":
		l.URL = urls.Unit(row.Unit)
	}
}

func toldEntry(l *templates.TrailLine, row db.TrailRow, e db.TrailEntry, names map[string]string) {
	l.Seq, l.CapturedAt, l.Device, l.Via, l.Reason = e.Seq, e.CapturedAt, e.Device, e.Via, e.Reason
	l.What, l.Found, l.Was, l.Became = templates.EntrySaid(e.Procedure, names, e.Entry, e.About)
	if e.Kind == commissioning.KindDisposition {
		l.Found = words.Text{}
	}
	l.URL = urls.LogbookEntry(row.Run, e.Seq)
}

// trailFilter reads the filter of the address. Days are days of the reader's site.
func trailFilter(query url.Values, zone string) (db.TrailFilter, error) {
	f := db.TrailFilter{
		Unit: query.Get("unit"), Run: query.Get("run"), Person: query.Get("person"), What: db.TrailWhat(query.Get("what")),
		Text: query.Get("text"),
	}
	for _, field := range []string{f.Unit, f.Run, f.Person, f.Text} {
		if !readable(field) {
			return f, problem.New(problem.Invalid, "The filter can't be read. Type it again.")
		}
	}
	var err error
	if f.From, err = day(query, "from", zone, 0); err != nil {
		return f, err
	}
	if f.To, err = day(query, "to", zone, 1); err != nil {
		return f, err
	}
	f.Before, err = placeAt(query.Get("before"))
	return f, err
}

// filterQuery is the address's query without the place.
func filterQuery(query url.Values) string {
	kept := url.Values{}
	for _, field := range []string{"unit", "run", "person", "what", "from", "to", "text"} {
		if text := query.Get(field); text != "" {
			kept.Set(field, text)
		}
	}
	return kept.Encode()
}

// placeText writes a place as an address carries it.
func placeText(p db.TrailPlace) string {
	return strings.Join([]string{p.At.UTC().Format(time.RFC3339Nano), string(p.Run), strconv.FormatInt(p.Seq, 10)}, ",")
}

func placeAt(text string) (db.TrailPlace, error) {
	if text == "" {
		return db.TrailPlace{}, nil
	}
	wrong := problem.New(problem.Invalid, "This address leads to no place in the trail. Start at the newest.")
	parts := strings.Split(text, ",")
	if len(parts) != 3 {
		return db.TrailPlace{}, wrong
	}
	at, err := time.Parse(time.RFC3339Nano, parts[0])
	seq, seqErr := strconv.ParseInt(parts[2], 10, 64)
	if err != nil || seqErr != nil || !readable(parts[1]) {
		return db.TrailPlace{}, wrong
	}
	return db.TrailPlace{At: at, Act: parts[1] == "", Run: commissioning.RunID(parts[1]), Seq: seq}, nil
}
