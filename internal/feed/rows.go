package feed

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"time"
)

// rows gives one JSON object at a time; io.EOF ends them.
type rows func() ([]byte, error)

// read takes the input apart by its first byte: objects, one a line, or CSV with
// the names of the fields in its first line.
func read(in io.Reader) (rows, error) {
	text := bufio.NewReaderSize(in, 64<<10)
	for {
		first, err := text.Peek(1)
		if err != nil {
			return nil, err
		}
		switch first[0] {
		case ' ', '\t', '\r', '\n':
			_, _ = text.Discard(1) // it was just seen
		case '{':
			return objects(text), nil
		default:
			return table(text)
		}
	}
}

func objects(text *bufio.Reader) rows {
	return func() ([]byte, error) {
		for {
			line, err := text.ReadBytes('\n')
			if line = bytes.TrimSpace(line); len(line) > 0 {
				return line, nil
			}
			if err != nil {
				return nil, err
			}
		}
	}
}

// fields of a reading that a column may be named after.
var fields = []string{"quantity", "value", "unit", "state", "observed_at", "note", "id"}

func table(text *bufio.Reader) (rows, error) {
	head, err := text.ReadString('\n')
	if err != nil {
		return nil, fmt.Errorf("the first line names no columns: %w", err)
	}
	comma := ','
	for _, mark := range ";\t" {
		if bytes.ContainsRune([]byte(head), mark) {
			comma = mark
		}
	}
	names, err := split([]byte(head), comma)
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		if !slices.Contains(fields, name) {
			return nil, fmt.Errorf("column %q is none of %v", name, fields)
		}
	}
	body := csv.NewReader(text)
	body.Comma, body.FieldsPerRecord = comma, len(names)
	return func() ([]byte, error) {
		cells, err := body.Read()
		if err != nil {
			return nil, err
		}
		row := map[string]any{}
		for i, name := range names {
			switch cell := cells[i]; {
			case cell == "":
			case name == "state" && (cell == "true" || cell == "false"):
				row[name] = cell == "true"
			default:
				row[name] = cell
			}
		}
		return json.Marshal(row)
	}, nil
}

func split(line []byte, comma rune) ([]string, error) {
	r := csv.NewReader(bytes.NewReader(line))
	r.Comma, r.TrimLeadingSpace = comma, true
	return r.Read()
}

// dated gives a row without an instant the one at which it was read.
func dated(row []byte, at time.Time) ([]byte, error) {
	var all map[string]json.RawMessage
	if err := json.Unmarshal(row, &all); err != nil {
		return nil, fmt.Errorf("%s: %w", row, err)
	}
	if _, given := all["observed_at"]; given {
		return row, nil
	}
	all["observed_at"] = json.RawMessage(at.UTC().Format(`"2006-01-02T15:04:05.000Z"`))
	return json.Marshal(all)
}
