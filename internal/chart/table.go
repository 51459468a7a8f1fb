package chart

import (
	"fmt"
	"math"
	"time"

	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// Row is one reading as words, for "Show as table".
type Row struct {
	Seq     int
	At      time.Time
	Value   string // in the quantity's unit
	Percent string // of the target, "" when none was found
	In      bool
	Counts  bool       // evidence for the hold
	Why     words.Text // why it does not count; empty when it does
	By      string     // code of who or what recorded it
	Typed   bool
	Late    bool
	Broke   bool // ended a hold
}

// Table gives the readings of a quantity, the first with a tolerance when
// quantity is "", in the order in which they were observed.
func Table(ex rules.Examination, quantity string) []Row {
	r := newRun(ex, quantity)
	rows := make([]Row, 0, len(r.readings))
	for _, p := range r.readings {
		rows = append(rows, Row{
			Seq: p.Entry.Seq, At: p.at, Value: p.Value, Percent: p.percent(), In: p.in(), Counts: p.counts() && p.held,
			Why: p.why(), By: p.Entry.By, Typed: p.Entry.Via == "typed", Late: p.tardy, Broke: p.broke,
		})
	}
	return rows
}

func (r reading) percent() string {
	if math.IsNaN(r.target) || r.target == 0 {
		return ""
	}
	return fmt.Sprintf("%.1f", 100*r.v/r.target)
}

func (r reading) why() words.Text {
	switch {
	case !r.Why.Empty():
		return r.Why
	case !r.in():
		return words.Say("Out of band.")
	case r.Late:
		return words.Say("Entered late and not accepted.")
	case !r.held:
		return words.Say("Not part of a hold.")
	}
	return words.Text{}
}
