package handlers

import (
	"bytes"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// ShowSetAside lists what tablets sent and no run took, for quality.
func (s *Screens) ShowSetAside(w http.ResponseWriter, r *http.Request) error {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.ReadSetAside); err != nil {
		return err
	}
	records, err := s.DB.SetAsideRecords(r.Context(), p, "")
	if err != nil {
		return err
	}
	lines := make([]templates.SetAsideLine, len(records))
	for i, r := range records {
		lines[i] = templates.SetAsideLine{
			Key: r.Key, Run: r.Run, RunNumber: r.RunNumber, Unit: r.Unit, TimeZone: r.TimeZone, Device: r.Device, N: r.N, Name: r.Name,
			Why: r.Why, StoredAt: r.StoredAt,
		}
		lines[i].What, lines[i].Fields = sentFields(r.Body)
	}
	return respond.HTML(w, r, http.StatusOK, templates.SetAsidePage(respond.Frame(r, words.Say("Set aside"), templates.Trail), lines))
}

// sentFields are what stood in the form, as far as the record can be read.
func sentFields(body []byte) (kind string, fields []templates.SentField) {
	var record pencilRecord
	if err := json.Unmarshal(body, &record); err != nil {
		return "", nil
	}
	for name, value := range record.Data {
		if name != "form" && value != "" {
			fields = append(fields, templates.SentField{Name: name, Value: value})
		}
	}
	slices.SortFunc(fields, func(a, b templates.SentField) int { return strings.Compare(a.Name, b.Name) })
	return record.Type, fields
}

// SetAsideRecord gives one record, byte by byte as it was sent.
func (s *Screens) SetAsideRecord(w http.ResponseWriter, r *http.Request) error {
	p := session.Person(r)
	if err := p.MayAnywhere(commissioning.ReadSetAside); err != nil {
		return err
	}
	records, err := s.DB.SetAsideRecords(r.Context(), p, chi.URLParam(r, "key"))
	if err == nil && len(records) == 0 {
		err = problem.New(problem.NotFound, "There is no such record. Open the list and start from there.")
	}
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Disposition", `attachment; filename="`+records[0].Key+`.json"`)
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(records[0].Body))
	return nil
}
