package handlers

import (
	"encoding/json"
	"fmt"
	"net/http"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

const (
	trailBatch = 1_000   // lines read at a time
	trailMost  = 100_000 // lines of one file
)

var trailColumns = []string{
	"stored_at", "observed_at", "captured_at", "by", "name", "device", "via", "kind", "what", "found", "was", "became", "reason", "detail",
	"unit", "site", "time_zone", "run", "seq", "id",
}

// TrailCSV gives all that passes the filter as a table, newest first.
func (s *Screens) TrailCSV(w http.ResponseWriter, r *http.Request) error {
	rows := [][]string{trailColumns}
	begin := func() {
		w.Header().Set("Content-Type", "text/csv; charset=utf-8")
		w.Header().Set("Content-Disposition", `attachment; filename="trail.csv"`)
	}
	return s.eachBatch(r, begin, func(lines []templates.TrailLine) error {
		for _, l := range lines {
			rows = append(rows, []string{
				instant(&l.StoredAt), instant(&l.ObservedAt), instant(l.CapturedAt), l.By, l.Name, l.Device, l.Via, l.Kind, l.What.String(), l.Found.String(),
				l.Was.String(), l.Became.String(), l.Reason, l.Detail, l.Unit, l.SiteName, l.TimeZone, l.RunNumber, seqText(l.Seq), l.ID,
			})
		}
		err := writeCSV(w, rows)
		rows = nil
		return err
	})
}

// TrailJSON gives the same as an array, one line each.
func (s *Screens) TrailJSON(w http.ResponseWriter, r *http.Request) error {
	before := "[\n"
	begin := func() {
		w.Header().Set("Content-Type", "application/json")
		w.Header().Set("Content-Disposition", `attachment; filename="trail.json"`)
	}
	err := s.eachBatch(r, begin, func(lines []templates.TrailLine) error {
		for _, l := range lines {
			data, err := json.Marshal(l)
			if err != nil {
				return err
			}
			if _, err := fmt.Fprintf(w, "%s%s", before, data); err != nil {
				return err
			}
			before = ",\n"
		}
		return nil
	})
	if err != nil {
		return err
	}
	if before == "[\n" {
		before = "["
	} else {
		before = "\n"
	}
	_, err = fmt.Fprintf(w, "%s]\n", before)
	return err
}

// eachBatch reads all that passes the filter, newest first, and hands it out in
// batches; begin is called once nothing can be refused any more.
func (s *Screens) eachBatch(r *http.Request, begin func(), write func([]templates.TrailLine) error) error {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.ReadTrail); err != nil {
		return err
	}
	filter, err := trailFilter(r.URL.Query(), respond.Frame(r, words.Text{}, "").Site.TimeZone)
	if err != nil {
		return err
	}
	filter.Limit = trailBatch
	for written := 0; written < trailMost; written += trailBatch {
		rows, err := s.DB.Trail(r.Context(), p, filter)
		if err != nil {
			return cutShort(err, written)
		}
		lines, err := s.told(r, rows)
		if err != nil {
			return cutShort(err, written)
		}
		if written == 0 {
			begin()
		}
		if err := write(lines); err != nil || len(rows) < trailBatch {
			return err
		}
		filter.Before = rows[len(rows)-1].Place()
	}
	return nil
}

// cutShort breaks the connection off once a part of a file is out, so that
// nobody takes it for the whole.
func cutShort(err error, written int) error {
	if written > 0 {
		panic(http.ErrAbortHandler)
	}
	return err
}
