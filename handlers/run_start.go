package handlers

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/a-h/templ"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowRunStart asks for unit, procedure, bench and instruments.
func (s *Screens) ShowRunStart(w http.ResponseWriter, r *http.Request) error {
	page, err := s.runStartPage(r, parts.Form{Values: r.URL.Query()})
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// StartRun opens a run on a free unit. The form's id makes a second click find
// the run that the first one opened.
func (s *Screens) StartRun(w http.ResponseWriter, r *http.Request) error {
	form, err := decodeForm(r, "id", "unit", "procedure", "bench", "instruments")
	if err != nil {
		return err
	}
	var run commissioning.Run
	opening, err := decodeOpening(form)
	if err == nil {
		run, err = s.Acts.OpenRun(r.Context(), session.Person(r), opening, s.Now())
	}
	if err == nil {
		return respond.Redirect(w, r, urls.Run(run.ID))
	}
	page, pageErr := s.runStartPage(r, parts.Form{Values: form, Err: err})
	if pageErr != nil {
		return pageErr
	}
	return respond.Refused(w, r, err, page)
}

// decodeOpening reads unit, "key/revision", and bench and instruments, which may
// be absent.
func decodeOpening(form url.Values) (act.Opening, error) {
	o := act.Opening{ID: commissioning.RunID(form.Get("id")), Unit: form.Get("unit")}
	if o.Unit == "" {
		return o, problem.On("unit", "Type the tag of the unit, as it stands on its type plate.")
	}
	key, revision, _ := strings.Cut(form.Get("procedure"), "/")
	n, err := strconv.Atoi(revision)
	if err != nil {
		return o, problem.On("procedure", "Choose the procedure.")
	}
	o.Procedure, o.Revision = key, n
	if bench := form.Get("bench"); bench != "" {
		if o.Bench, err = strconv.ParseInt(bench, 10, 64); err != nil {
			return o, problem.On("bench", "Choose a bench from the list, or none.")
		}
	}
	for _, text := range form["instruments"] {
		id, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return o, problem.On("instruments", "Tick instruments of the list, or none.")
		}
		o.Instruments = append(o.Instruments, id)
	}
	return o, nil
}

func (s *Screens) runStartPage(r *http.Request, form parts.Form) (templ.Component, error) {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.OpenRun); err != nil {
		return nil, err
	}
	c := templates.StartChoices{ID: form.Value("id")}
	if c.ID == "" {
		c.ID = newID()
	}
	revisions, err := s.DB.Procedures(r.Context())
	if err != nil {
		return nil, err
	}
	newest := map[string]bool{} // of each procedure; they come newest first
	for _, rev := range revisions {
		if rev.Usable() && !newest[rev.Key] {
			newest[rev.Key] = true
			label := words.Say("%s, revision %d", rev.Title, rev.Revision)
			c.Procedures = append(c.Procedures, parts.Option{Value: fmt.Sprintf("%s/%d", rev.Key, rev.Revision), Label: label})
		}
	}
	if err := s.startPlaces(r, p, &c); err != nil {
		return nil, err
	}
	return templates.RunStartPage(respond.Frame(r, words.Say("Start a run"), templates.StartRun), form, c), nil
}

// startPlaces fills in the benches, instruments and units of the sites where the person may
// open a run; a unit with a live run is named as taken.
func (s *Screens) startPlaces(r *http.Request, p commissioning.Person, c *templates.StartChoices) error {
	sites, err := s.DB.Sites(r.Context())
	if err != nil {
		return err
	}
	benches, err := s.DB.Benches(r.Context(), p)
	if err != nil {
		return err
	}
	for _, b := range benches {
		if p.May(commissioning.OpenRun, b.Site) == nil {
			c.Benches = append(c.Benches, parts.Option{Value: number(b.ID), Label: words.Plain(b.Name + ", " + siteName(b.Site, sites))})
		}
	}
	if c.Instruments, err = s.instrumentsFor(r.Context(), p, sites); err != nil {
		return err
	}
	board, err := s.DB.Board(r.Context(), p)
	if err != nil {
		return err
	}
	for _, row := range board {
		if p.May(commissioning.OpenRun, row.Unit.Site) != nil {
			continue
		}
		place := row.Unit.Line + ", " + siteName(row.Unit.Site, sites)
		if row.Run != nil {
			c.Busy = append(c.Busy, parts.Option{Value: row.Unit.Tag, Label: words.Say("%s. Run %s is %s.", place, row.Run.Number, row.Run.State)})
			continue
		}
		c.Units = append(c.Units, parts.Option{Value: row.Unit.Tag, Label: words.Plain(place)})
	}
	return nil
}
