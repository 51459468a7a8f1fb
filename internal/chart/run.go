package chart

import (
	"math"
	"slices"
	"strconv"
	"time"

	"settlemark/internal/rules"
)

// run is what the chart shows, read once from an examination.
type run struct {
	series   rules.Series
	readings []reading
	holds    []hold
	faults   []rules.FaultState
	required time.Duration
	passed   bool
	first    time.Time // first start, or first reading; zero when there is neither
	last     time.Time // last reading, fault or end of a hold
}

// reading is one point as it is drawn.
type reading struct {
	rules.Point
	at                time.Time
	v, lo, hi, target float64 // NaN where there is none
	broke             bool    // the one that ended a hold
	held              bool    // inside a hold longer than zero
	tardy             bool    // entered late, accepted or not
}

// in says whether the reading is drawn as in band.
func (r reading) in() bool { return r.Good }

// counts says whether the reading is evidence for a hold.
func (r reading) counts() bool { return r.Good && !r.Late }

// hold is one stretch of time that was held.
type hold struct {
	rules.Interval
	live  bool      // the one that the gate reports
	ended time.Time // when what ended it was seen; To when nothing was
	cause string
}

func (h hold) covers(at time.Time) bool { return !at.Before(h.From) && !at.After(h.To) }

func number(text string) float64 {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) {
		return math.NaN()
	}
	return v
}

func newRun(ex rules.Examination, quantity string) run {
	r := run{
		series: pick(ex.Series, quantity), faults: ex.Faults,
		required: ex.Assessment.Hold.Required, passed: ex.Assessment.Hold.Verdict == rules.Pass,
	}
	for _, p := range r.series.Points {
		v := number(p.Value)
		if math.IsNaN(v) {
			continue
		}
		r.readings = append(r.readings, reading{
			Point: p, at: p.Entry.ObservedAt, v: v,
			lo: number(p.Lower), hi: number(p.Upper), target: number(p.Target),
			tardy: ex.Late[p.Entry.Seq],
		})
	}
	r.addHolds(ex)
	r.addEnds(ex)
	return r
}

func pick(all []rules.Series, quantity string) rules.Series {
	for _, s := range all {
		if s.Quantity.Key == quantity || quantity == "" && s.Quantity.Tolerance != nil {
			return s
		}
	}
	return rules.Series{}
}

func (r *run) addHolds(ex rules.Examination) {
	gate := ex.Assessment.Hold
	for _, iv := range ex.Holds {
		h := hold{Interval: iv, ended: iv.To, cause: iv.Cause}
		h.live = iv.Running || gate.From != nil && gate.From.Equal(iv.From) && (gate.Verdict == rules.Pass || iv.Enough && lastHold(ex.Holds, iv))
		for _, b := range gate.Breaks {
			if !b.At.Equal(iv.To) || b.Cause != "out_of_tolerance" || b.Condition != r.series.Quantity.Key {
				continue
			}
			if i := slices.IndexFunc(r.readings, func(p reading) bool { return p.at.After(iv.To) && !p.Good }); i >= 0 {
				r.readings[i].broke = true
				h.ended = r.readings[i].at
			}
		}
		for i, p := range r.readings {
			r.readings[i].held = p.held || p.counts() && h.covers(p.at)
		}
		r.holds = append(r.holds, h)
	}
}

func lastHold(all []rules.Interval, iv rules.Interval) bool {
	return all[len(all)-1].From.Equal(iv.From)
}

func (r *run) addEnds(ex rules.Examination) {
	see := func(at time.Time) {
		if at.After(r.last) {
			r.last = at
		}
	}
	for _, e := range ex.Live {
		if e.Kind == "start" && (r.first.IsZero() || e.ObservedAt.Before(r.first)) {
			r.first = e.ObservedAt
			see(e.ObservedAt)
		}
	}
	if len(r.readings) > 0 {
		if at := r.readings[0].at; r.first.IsZero() || at.Before(r.first) {
			r.first = at
		}
		see(r.readings[len(r.readings)-1].at)
	}
	for _, h := range r.holds {
		see(h.To)
	}
	for _, f := range r.faults {
		see(f.Entry.ObservedAt)
	}
}

// live gives the hold that counts, if there is one.
func (r run) live() (hold, bool) {
	for _, h := range slices.Backward(r.holds) {
		if h.live {
			return h, true
		}
	}
	return hold{}, false
}

// gap says whether the line breaks between two readings.
func (r run) gap(a, b reading) bool {
	longest := r.series.Quantity.MaxGap.D
	return longest > 0 && b.at.Sub(a.at) > longest
}
