package feed

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"time"
)

// Row is a reading as the feed reads it.
type Row struct {
	Quantity   string    `json:"quantity"`
	Value      string    `json:"value,omitempty"`
	Unit       string    `json:"unit,omitempty"`
	State      *bool     `json:"state,omitempty"`
	ObservedAt time.Time `json:"observed_at"`
	Note       string    `json:"note,omitempty"`
}

// WriteLines gives a function that writes one row as JSON on a line.
func WriteLines(w io.Writer) func(Row) error {
	lines := json.NewEncoder(w)
	return func(r Row) error { return lines.Encode(r) }
}

// WriteTable gives a function that writes one row as CSV; the names of the fields
// come before the first. Each row is written at once, for a pipe that is read live.
func WriteTable(w io.Writer) func(Row) error {
	table, begun := csv.NewWriter(w), false
	return func(r Row) error {
		if !begun {
			begun = true
			_ = table.Write([]string{"quantity", "value", "unit", "state", "observed_at", "note"}) // Flush tells
		}
		state := ""
		if r.State != nil {
			state = strconv.FormatBool(*r.State)
		}
		_ = table.Write([]string{r.Quantity, r.Value, r.Unit, state, r.ObservedAt.Format(time.RFC3339Nano), r.Note})
		table.Flush()
		return table.Error()
	}
}
