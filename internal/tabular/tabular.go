// Package tabular reads the file of a controller or a spreadsheet: text in
// columns, with a time in each row. It guesses how the file is written, and says
// with that guess, or with what a person made of it, which readings the file holds
// and which rows are none, by line.
//
// The package is pure: it knows neither HTTP nor SQL nor the clock, and nothing
// that it reads is ever run. It takes no formula, no packed file and no file of
// more than MaxFile bytes.
package tabular

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"settlemark/internal/measure"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Limits of a file. A run's evidence is some thousand readings.
const (
	MaxFile     = 20 << 20
	MaxReadings = 5000
	maxColumns  = 64
	maxRows     = 500_000
	maxCell     = 200
)

// Quantity is what a column can hold a reading of.
type Quantity struct {
	Key, Label, Unit string
	State            bool // yes or no in place of a number
}

// Column is what a column of the file is taken for.
type Column struct {
	Name     string `json:"name"`               // as the heading of the file has it
	Quantity string `json:"quantity,omitempty"` // key, "" for a column that is left out
	Unit     string `json:"unit,omitempty"`
}

// Mapping says how a file is written and what its columns hold.
type Mapping struct {
	Delimiter string   `json:"delimiter"`
	Decimal   string   `json:"decimal"`
	Layout    string   `json:"layout"` // of times, one of Layouts
	Zone      string   `json:"zone"`   // IANA name, for layouts without an offset
	Time      int      `json:"time"`   // column, from 1; with the date, unless that stands apart
	Date      int      `json:"date"`   // column of a date that stands apart, 0 for none
	Twice     string   `json:"-"`      // how the hour that comes twice is read; "" refuses it; of this file only
	Columns   []Column `json:"columns"`
}

// Delimiters and Decimals are what a file may be written with; the first that fits
// is guessed.
var (
	Delimiters = []string{"\t", ";", "|", ","}
	Decimals   = []string{".", ","}
)

// Ways to read the hour that a clock set back shows twice.
const (
	TwiceOrder  = "order" // as the rows stand: once they go back, it is the second time
	TwiceFirst  = "first"
	TwiceSecond = "second"
)

// Check refuses a mapping that fits neither the file nor the quantities, with the
// name of the field that is wrong.
func (m Mapping) Check(quantities []Quantity) error {
	switch {
	case !slices.Contains(Delimiters, m.Delimiter):
		return problem.On("delimiter", "Choose what stands between the columns.")
	case !slices.Contains(Decimals, m.Decimal):
		return problem.On("decimal", "Choose the decimal mark.")
	case !slices.ContainsFunc(Layouts, func(l Layout) bool { return l.Name == m.Layout }):
		return problem.On("layout", "Choose how times are written.")
	case m.Time < 1 || m.Time > len(m.Columns):
		return problem.On("time", "Choose the column of the time.")
	case m.Date < 0 || m.Date > len(m.Columns) || m.Date == m.Time:
		return problem.On("date", "Choose the column of the date, or none.")
	}
	if !slices.Contains([]string{"", TwiceOrder, TwiceFirst, TwiceSecond}, m.Twice) {
		return problem.On("twice", "Choose how the hour is read that comes twice.")
	}
	if _, err := time.LoadLocation(m.Zone); err != nil || m.Zone == "" || m.Zone == "Local" {
		return problem.On("zone", "Choose the time zone.")
	}
	return m.checkColumns(quantities)
}

func (m Mapping) checkColumns(quantities []Quantity) error {
	used := map[string]bool{}
	for i, c := range m.Columns {
		if c.Quantity == "" {
			continue
		}
		field := ColumnField(i)
		q, known := find(quantities, c.Quantity)
		switch {
		case !known:
			return problem.On(field, "The procedure has no such quantity. Choose another.")
		case used[c.Quantity]:
			return problem.On(field, "Two columns hold %s. Choose one of them.", q.Label)
		case i+1 == m.Time || i+1 == m.Date:
			return problem.On(field, "This column holds the time. Choose nothing for it.")
		case !q.State && !alike(q.Unit, c.Unit):
			return problem.On(UnitField(i), "%s is not read in %s. Choose another unit.", q.Label, measure.Sign(c.Unit))
		}
		used[c.Quantity] = true
	}
	if len(used) == 0 {
		return problem.New(problem.Invalid, "No column is taken. Choose at least one.")
	}
	return nil
}

// ColumnField and UnitField name what a form says of a column, from 0.
func ColumnField(i int) string { return "column-" + strconv.Itoa(i) }

// UnitField is the other one.
func UnitField(i int) string { return "unit-" + strconv.Itoa(i) }

func find(quantities []Quantity, key string) (Quantity, bool) {
	i := slices.IndexFunc(quantities, func(q Quantity) bool { return q.Key == key })
	if i < 0 {
		return Quantity{}, false
	}
	return quantities[i], true
}

// alike says whether two units are of one kind.
func alike(a, b string) bool {
	ka, okA := measure.KindOf(a)
	kb, okB := measure.KindOf(b)
	return okA && okB && ka == kb
}

// Bad is a row that gives no reading.
type Bad struct {
	Line int
	Why  words.Text
}

// plainCell is a cell without what spreadsheets put around it.
func plainCell(cell string) string {
	return strings.Trim(cell, " \t\u00a0\u202f\ufeff")
}
