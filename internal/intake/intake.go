// Package intake reads the rows that machines send: entries of the logbook, or
// plain readings, one JSON object each. What it gives goes through act like
// everything else. The package must not know HTTP nor SQL.
package intake

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// MaxRows is the most rows of one post.
const MaxRows = 1000

// List takes a JSON array apart. Rows are counted from 0.
func List(data []byte) ([][]byte, error) {
	var rows []jsontext.Value
	if err := json.Unmarshal(data, &rows); err != nil {
		return nil, problem.On("$", "expected a JSON array of objects: %s", plain(err))
	}
	out := make([][]byte, len(rows))
	for i, row := range rows {
		out[i] = row
	}
	return out, counted(len(out))
}

// Lines takes newline-delimited JSON apart; empty lines are passed over.
func Lines(data []byte) ([][]byte, error) {
	var rows [][]byte
	for line := range bytes.Lines(data) {
		if line = bytes.TrimSpace(line); len(line) > 0 {
			rows = append(rows, line)
		}
	}
	return rows, counted(len(rows))
}

func counted(n int) error {
	if n == 0 || n > MaxRows {
		return problem.On("$", "expected 1 to 1,000 rows, found %d. Send fewer at a time", n)
	}
	return nil
}

func plain(err error) string {
	text, _, _ := strings.Cut(err.Error(), "\n")
	return text
}

// names is the name space of ids that are made from what a reading says.
var names = uuid.MustParse("6c1a4f0e-5b1d-5c55-9a57-0f6a7f4c2a11")

// Reading fills in what a plain reading may leave out: its kind, and an id made
// of the sender, the unit, the quantity and the instant, so that sending it again
// stores nothing twice.
func Reading(row []byte, sender, unit string) ([]byte, error) {
	var fields map[string]jsontext.Value
	if err := json.Unmarshal(row, &fields); err != nil {
		return nil, problem.On("$", "expected a JSON object: %s", plain(err))
	}
	if _, given := fields["kind"]; !given {
		fields["kind"] = jsontext.Value(`"` + string(commissioning.KindReading) + `"`)
	}
	if _, given := fields["id"]; !given {
		fields["id"] = jsontext.Value(`"` + ReadingID(sender, unit, text(fields["quantity"]), text(fields["observed_at"])) + `"`)
	}
	return json.Marshal(fields, json.Deterministic(true))
}

// ReadingID is the id of a reading that brings none: a UUID of version 5 over
// what makes it this reading and no other. at is an RFC 3339 instant; two
// spellings of one instant give one id.
func ReadingID(sender, unit, quantity, at string) string {
	if instant, err := time.Parse(time.RFC3339Nano, at); err == nil {
		at = instant.UTC().Format(time.RFC3339Nano)
	}
	return uuid.NewSHA1(names, fmt.Appendf(nil, "%q %q %q %q", sender, unit, quantity, at)).String()
}

func text(v jsontext.Value) string {
	var s string
	if json.Unmarshal(v, &s) != nil {
		return string(v)
	}
	return s
}

// Decoded is a row that became an entry, or its refusal.
type Decoded struct {
	Entry commissioning.Entry
	Err   error
}

// Decode reads each row against the run's procedure.
func Decode(rows [][]byte, p commissioning.Procedure) []Decoded {
	all := make([]Decoded, len(rows))
	for i, row := range rows {
		if all[i].Entry, all[i].Err = commissioning.DecodeEntry(row, p); all[i].Err == nil {
			all[i].Err = all[i].Entry.NoPen()
		}
	}
	return all
}
