package rules

import (
	"math"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
)

// States of a forecast.
const (
	InTolerance   = "in_tolerance"    // the latest reading is good
	Settling      = "settling"        // it is heading for a value inside the limits
	WillNotSettle = "will_not_settle" // it is heading outside, and so does the whole 90 % interval
	Unclear       = "unclear"         // the readings do not say
)

// Forecast says where a quantity is heading if it goes on as it does. It is
// advice: it decides no gate, and nobody signs it.
type Forecast struct {
	State                        string
	Asymptote                    *float64 // nil where the readings determine none
	TimeConstant                 *float64 // in seconds
	Enters, Earliest, Latest     *time.Time
	Used                         int     // readings that the fit was given
	LowerAccepted, UpperAccepted float64 // the newest limits, drawn in where the quantity is guarded
}

// What a forecast needs.
const (
	forecastReadings = 5
	forecastSpan     = 10 * time.Minute
)

// Forecast fits v(t) = c + a·exp(−t/τ) to the readings of a quantity since the
// last start, clearing of a fault or load. Struck readings and late ones that
// nobody accepted have no part in the fit; a late bad one still shows that the
// quantity is not in tolerance.
func (x Examination) Forecast(quantity string) Forecast {
	f := Forecast{State: Unclear}
	since := x.lastDisturbance()
	var used []Point
	var latest *Point
	for _, s := range x.Series {
		if s.Quantity.Key != quantity || s.Quantity.Tolerance == nil {
			continue
		}
		for i, p := range s.Points {
			if p.Entry.ObservedAt.Before(since) || p.Late && p.Good {
				continue
			}
			if latest == nil || p.Entry.ObservedAt.After(latest.Entry.ObservedAt) || !p.Good {
				latest = &s.Points[i]
			}
			if !p.Late {
				used = append(used, p)
			}
			if p.Lower != "" {
				f.LowerAccepted, f.UpperAccepted = accepted(s.Quantity, p)
			}
		}
	}
	f.Used = len(used)
	if latest == nil {
		return f
	}
	f.fit(used)
	if latest.Good {
		f.State, f.Enters, f.Earliest, f.Latest = InTolerance, nil, nil, nil
	}
	return f
}

// lastDisturbance is the last live start, clearing or load: what came before it
// says nothing of what comes.
func (x Examination) lastDisturbance() time.Time {
	var last time.Time
	for _, e := range x.Live {
		switch e.Kind {
		case commissioning.KindStart, commissioning.KindFaultCleared, commissioning.KindLoad:
			if e.ObservedAt.After(last) {
				last = e.ObservedAt
			}
		}
	}
	return last
}

// accepted is the range in which a reading of that quantity is good. A guard
// band in percent is percent of the value read, so it is solved for that value.
func accepted(q commissioning.Quantity, p Point) (lower, upper float64) {
	lower, upper = measure.Must(p.Lower).Float(), measure.Must(p.Upper).Float()
	if q.Decision != commissioning.Guarded {
		return lower, upper
	}
	factor := 1.0
	if q.GuardFactor != "" {
		factor = measure.Must(q.GuardFactor).Float()
	}
	if q.Uncertainty.Absolute != "" {
		guard := factor * measure.Must(q.Uncertainty.Absolute).Float()
		return lower + guard, upper - guard
	}
	share := factor * measure.Must(q.Uncertainty.Percent).Float() / 100
	return lower / (1 - share), upper / (1 + share)
}

// fit fills in what the readings determine.
func (f *Forecast) fit(used []Point) {
	lower, upper := f.LowerAccepted, f.UpperAccepted
	if len(used) < forecastReadings || !(lower < upper) {
		return
	}
	first := used[0].Entry.ObservedAt
	if used[len(used)-1].Entry.ObservedAt.Sub(first) < forecastSpan {
		return
	}
	ts, vs := make([]float64, len(used)), make([]float64, len(used))
	for i, p := range used {
		ts[i], vs[i] = p.Entry.ObservedAt.Sub(first).Seconds(), measure.Must(p.Value).Float()
	}
	curve, err := measure.FitApproach(ts, vs)
	if err != nil || !curve.Sure() {
		return
	}
	c, tau := measure.Significant(curve.C), measure.Significant(curve.Tau)
	f.Asymptote, f.TimeConstant = &c, &tau
	low, high := curve.Interval()
	switch {
	case lower <= curve.C && curve.C <= upper:
		f.State = Settling
		f.enters(curve, first)
	case low > upper || high < lower:
		f.State = WillNotSettle
	}
}

// enters finds the instant at which the curve comes into tolerance, to the second.
func (f *Forecast) enters(curve measure.Approach, first time.Time) {
	limit := f.UpperAccepted
	if curve.A < 0 {
		limit = f.LowerAccepted
	}
	entry, ok := curve.Enters(limit)
	if !ok {
		return
	}
	f.Enters, f.Earliest, f.Latest = after(first, entry.At), after(first, entry.Earliest), after(first, entry.Latest)
}

// after is so many seconds after an instant; nil for never, and for a time so
// far off that nobody waits for it.
func after(t time.Time, seconds float64) *time.Time {
	if !(math.Abs(seconds) < 1e9) {
		return nil
	}
	at := t.Add(time.Duration(seconds * float64(time.Second))).Round(time.Second)
	return &at
}
