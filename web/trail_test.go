package web_test

import (
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"

	"settlemark/internal/urls"
)

func TestTrail(t *testing.T) {
	b := newBench(t)
	engineer := b.as("engineer")
	b.start(engineer)
	b.reads(engineer, "viscosity", "4.60").taken()
	b.send(engineer, urls.Correction(b.run, 1), "correction", "reason", "=misread", "replace", "yes", "value", "4.70").taken()
	quality := b.as("quality")

	t.Run("a_correction_shows_both_values_and_its_reason", func(t *testing.T) {
		quality.get("/trail?what=corrections").wants(200, "Entry 1 corrected", "was: Ink viscosity: 4.60 mPa·s", "became: Ink viscosity: 4.70 mPa·s",
			"reason: =misread", "The engineer", "R-0001, entry 2")
	})
	t.Run("a_line_leads_to_its_entry", func(t *testing.T) {
		href := quality.get("/trail?what=corrections").page().Find(".trail a.go").AttrOr("href", "")
		a := quality.get(strings.Split(href, "#")[0])
		if a.page().Find("#entry-2").Length() != 1 {
			t.Errorf("%s does not show the entry: %d", href, a.status)
		}
	})
	t.Run("csv_and_json_hold_the_same_lines_and_no_formula", func(t *testing.T) {
		rows, err := csv.NewReader(strings.NewReader(quality.get("/trail.csv").body)).ReadAll()
		b.must(err)
		var lines []map[string]any
		b.must(json.Unmarshal([]byte(quality.get("/trail.json").body), &lines))
		if len(rows) != len(lines)+1 || len(lines) < 10 {
			t.Errorf("%d lines of CSV, %d of JSON", len(rows)-1, len(lines))
		}
		for i, row := range rows[1:] {
			if row[len(row)-1] != lines[i]["id"] {
				t.Errorf("line %d is %s in one and %s in the other", i, row[len(row)-1], lines[i]["id"])
			}
		}
		if body := quality.get("/trail.csv?what=corrections").body; !strings.Contains(body, ",'=misread,") {
			t.Errorf("a formula: %s", body)
		}
		if body := quality.get("/trail.json?unit=nothing").body; body != "[]\n" {
			t.Errorf("nothing is %q", body)
		}
	})
	t.Run("what_is_refused_is_said_on_the_page", func(t *testing.T) {
		quality.get("/trail?text=4.60").wants(422, "A search for words needs")
		quality.get("/trail?before=yesterday").wants(422, "no place in the trail")
		quality.get("/trail?from=soon").wants(422, "year-month-day")
	})
	t.Run("an_administrator_reads_no_evidence", func(t *testing.T) {
		a := b.as("administrator").get("/trail").wants(200, "Unit saved", "Person added")
		if strings.Contains(a.text(), "R-0001") || strings.Contains(b.as("administrator").get("/trail.csv").body, "R-0001") {
			t.Error("a run is shown")
		}
	})
}
