package handlers

import (
	"net/http"
	"net/url"
	"strconv"

	"github.com/a-h/templ"

	"settlemark/db"
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

// ShowRecall finds every run that loaded a lot of a fluid.
func (s *Screens) ShowRecall(w http.ResponseWriter, r *http.Request) error {
	page, err := s.recallPage(r, r.URL.Query(), parts.Form{})
	if err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, page)
}

// Recall withdraws the ticked certificates, all or none.
func (s *Screens) Recall(w http.ResponseWriter, r *http.Request) error {
	if err := session.Person(r).MayAnywhere(commissioning.RecallLot); err != nil {
		return err
	}
	form, err := decodeForm(r, signedFields("fluid", "lot", "number", "reason")...)
	if err != nil {
		return err
	}
	signing := signingOf(form)
	wish := act.Recall{
		Key: signing.Nonce, Fluid: form.Get("fluid"), Lot: form.Get("lot"), Reason: form.Get("reason"), Proof: signing.Proof,
	}
	for _, n := range form["number"] {
		wish.Numbers = append(wish.Numbers, commissioning.CertificateNumber(n))
	}
	if _, err := s.Acts.RecallLot(r.Context(), session.Person(r), wish, s.Now()); err != nil {
		page, pageErr := s.recallPage(r, form, parts.Form{Values: form, Err: err})
		if pageErr != nil {
			return pageErr
		}
		return s.proofRefused(w, r, err, page)
	}
	return respond.Redirect(w, r, urls.Recalled(wish.Fluid, wish.Lot, wish.Key))
}

// RecallCSV gives what the search found as a table for a spreadsheet.
func (s *Screens) RecallCSV(w http.ResponseWriter, r *http.Request) error {
	lines, err := s.lotLines(r, r.URL.Query())
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="recall.csv"`)
	return writeCSV(w, s.lotRows(lines))
}

func (s *Screens) recallPage(r *http.Request, asked url.Values, form parts.Form) (templ.Component, error) {
	lines, err := s.lotLines(r, asked)
	if err != nil {
		return nil, err
	}
	v := templates.RecallView{
		Search: parts.Form{Values: asked}, Lines: lines, Form: form, Now: s.Now(),
		Asked: asked.Get("fluid") != "" && asked.Get("lot") != "",
	}
	if v.Asked {
		if v.Proving, err = s.proving(r, act.RecallContent(asked.Get("fluid"), asked.Get("lot")), "number", "reason"); err != nil {
			return nil, err
		}
	}
	if key := asked.Get("done"); key != "" {
		done, err := s.DB.Recalled(r.Context(), session.Person(r), key)
		if err != nil && problem.KindOf(err) != problem.NotFound {
			return nil, err
		}
		v.Withdrawn, v.Skipped = done.Withdrawn, done.Skipped
	}
	return templates.RecallPage(respond.Frame(r, words.Say("Recall a lot"), templates.RecallLot), v), nil
}

// lotLines joins what the record says of the lot with what became of each
// certificate.
func (s *Screens) lotLines(r *http.Request, asked url.Values) ([]templates.LotLine, error) {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.RecallLot); err != nil {
		return nil, err
	}
	if asked.Get("fluid") == "" || asked.Get("lot") == "" {
		return nil, nil
	}
	loads, err := s.DB.LotLoads(r.Context(), p, asked.Get("fluid"), asked.Get("lot"))
	if err != nil {
		return nil, err
	}
	numbers := []commissioning.CertificateNumber{}
	for _, l := range loads {
		if l.Certificate != "" {
			numbers = append(numbers, l.Certificate)
		}
	}
	found, err := s.DB.Certificates(r.Context(), p, db.CertificateFilter{Numbers: numbers, Limit: len(loads) + 1}, s.Now())
	if err != nil {
		return nil, err
	}
	var lines []templates.LotLine
	for _, l := range loads {
		line := templates.LotLine{LotLoad: l}
		if c, ok := find(found, func(c commissioning.Certificate) string { return string(c.Number) }, string(l.Certificate)); ok {
			line.Release = &c
		}
		lines = append(lines, line)
	}
	return lines, nil
}

func (s *Screens) lotRows(lines []templates.LotLine) [][]string {
	rows := [][]string{{
		"fluid", "lot", "site", "unit", "line", "run", "run_state", "position", "loaded_at", "entry", "entry_state", "struck_for",
		"certificate", "released_at", "valid_until", "status", "status_at", "status_by", "status_reason",
	}}
	for _, l := range lines {
		row := []string{
			l.Fluid, l.Lot, l.SiteName, l.Unit, l.Line, l.RunNumber.String(), l.RunState().String(), string(l.Position),
			instant(&l.LoadedAt), strconv.Itoa(l.Seq), l.EntryState().String(), l.StruckFor,
		}
		certificate := make([]string, 7)
		if c := l.Release; c != nil {
			standing := c.Standing(s.Now())
			certificate = []string{string(c.Number), instant(&c.ReleasedAt), instant(c.ValidUntil), string(standing.Status), "", standing.By, standing.Reason.String()}
			if !standing.At.IsZero() {
				certificate[4] = instant(&standing.At)
			}
		}
		rows = append(rows, append(row, certificate...))
	}
	return rows
}
