package tabular

import (
	"regexp"
	"slices"
	"strings"
	"time"

	"settlemark/internal/words"
)

// Reading is one value of the file.
type Reading struct {
	Line     int
	Quantity string
	Value    string // a decimal with a point, "" for a state
	Unit     string
	State    *bool
	At       time.Time
	Raw      string // the time as it stands in the file
}

// Result is what a file gives.
type Result struct {
	Names    []string // of the columns, as the heading has them
	Rows     int      // rows of readings
	Readings []Reading
	Bad      []Bad
	Repeated int // rows in an hour that comes twice, read as Mapping.Twice says
	Before   int // readings before the run, left out
}

// Read takes the readings out of the text. What lies before the first instant
// belongs to no run and is left out.
func (m Mapping) Read(text string, quantities []Quantity, first time.Time) Result {
	rows, bad := split(text, m.Delimiter)
	layout := m.layout()
	head := heading(rows, func(r row) bool { _, ok := layout.wall(m.timeOf(r)); return ok })
	out := Result{Bad: bad, Names: names(rows[:head], width(rows[head:]))}
	zone, err := time.LoadLocation(m.Zone)
	if err != nil {
		zone = time.UTC
	}
	rows = rows[head:]
	out.Rows = len(rows)
	if falling(rows, m, layout) {
		slices.Reverse(rows)
	}
	c := clock{layout: layout, zone: zone, twice: m.Twice}
	seen := map[string]string{}
	for _, r := range rows {
		at, why := c.at(m.timeOf(r))
		if !why.Empty() {
			out.Bad = append(out.Bad, Bad{r.line, why})
			continue
		}
		if at.Before(first) {
			out.Before++
			continue
		}
		m.readRow(r, at, quantities, seen, &out)
	}
	out.Repeated = c.repeated
	slices.SortStableFunc(out.Bad, func(a, b Bad) int { return a.Line - b.Line })
	return out
}

func (m Mapping) readRow(r row, at time.Time, quantities []Quantity, seen map[string]string, out *Result) {
	for i, column := range m.Columns {
		if column.Quantity == "" || i >= len(r.cells) {
			continue
		}
		cell := plainCell(r.cells[i])
		q, known := find(quantities, column.Quantity)
		if cell == "" || !known {
			continue
		}
		reading := Reading{Line: r.line, Quantity: q.Key, At: at, Raw: m.timeOf(r)}
		var why words.Text
		if q.State {
			reading.State, why = state(cell)
		} else {
			reading.Unit = column.Unit
			reading.Value, why = m.number(cell)
		}
		if !why.Empty() {
			out.Bad = append(out.Bad, Bad{r.line, words.Say("%s: %s", q.Label, why)})
			continue
		}
		key := q.Key + at.Format(time.RFC3339Nano)
		before, again := seen[key]
		if seen[key] = cell; !again {
			out.Readings = append(out.Readings, reading)
		} else if before != cell {
			out.Bad = append(out.Bad, Bad{r.line, words.Say("%s: another value stands at the same time in a row before.", q.Label)})
		}
	}
}

var decimal = regexp.MustCompile(`^-?[0-9]{1,15}(\.[0-9]{1,12})?$`)

// number reads a decimal with the mark of the file. Marks between thousands are
// refused: they can be read in two ways.
func (m Mapping) number(cell string) (string, words.Text) {
	text := strings.TrimPrefix(strings.Replace(cell, "\u2212", "-", 1), "+")
	if m.Decimal == "," {
		text = strings.NewReplacer(",", ".", ".", ",").Replace(text)
	}
	if !decimal.MatchString(text) {
		return "", words.Say("“%s” is no number as the file writes it.", cell)
	}
	return text, words.Text{}
}

var states = map[string]bool{
	"1": true, "true": true, "yes": true, "on": true, "ja": true, "ein": true, "wahr": true,
	"0": false, "false": false, "no": false, "off": false, "nein": false, "aus": false, "falsch": false,
}

func state(cell string) (*bool, words.Text) {
	is, known := states[strings.ToLower(cell)]
	if !known {
		return nil, words.Say("“%s” says neither yes nor no.", cell)
	}
	return &is, words.Text{}
}

func (m Mapping) layout() Layout {
	i := slices.IndexFunc(Layouts, func(l Layout) bool { return l.Name == m.Layout })
	return Layouts[max(i, 0)]
}

// timeOf is what a row says of its time, with the date before it.
func (m Mapping) timeOf(r row) string {
	cell := func(column int) string {
		if column < 1 || column > len(r.cells) {
			return ""
		}
		return plainCell(r.cells[column-1])
	}
	return strings.TrimSpace(cell(m.Date) + " " + cell(m.Time))
}

// heading is how many rows stand before the first with a time.
func heading(rows []row, timed func(row) bool) int {
	if i := slices.IndexFunc(rows, timed); i >= 0 {
		return i
	}
	return len(rows)
}

// falling says whether the newest row stands first, by how the first go on.
func falling(rows []row, m Mapping, layout Layout) bool {
	var last time.Time
	steps := 0
	for _, r := range rows[:min(len(rows), sampled)] {
		if at, ok := layout.wall(m.timeOf(r)); ok {
			if !last.IsZero() {
				steps += at.Compare(last)
			}
			last = at
		}
	}
	return steps < 0
}

// width is the number of columns of most rows.
func width(rows []row) int {
	count, best := map[int]int{}, 0
	for _, r := range rows {
		n := len(r.cells)
		count[n]++
		if count[n] > count[best] || count[n] == count[best] && n > best {
			best = n
		}
	}
	return best
}

// names are those of the columns: what the rows of the heading say that are as
// wide as the table, one under the other.
func names(head []row, wide int) []string {
	all := make([]string, wide)
	for _, r := range head {
		if len(r.cells) != wide {
			continue
		}
		for i, c := range r.cells {
			all[i] = strings.TrimSpace(all[i] + " " + plainCell(c))
		}
	}
	return all
}
