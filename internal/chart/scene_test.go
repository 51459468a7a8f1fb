package chart_test

import (
	"fmt"
	"math"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
)

// scene builds examinations as the rules would give them for one quantity with
// a fixed target, so that each picture can be asked for by its readings.
type scene struct {
	ex       rules.Examination
	q        commissioning.Quantity
	start    time.Time
	required time.Duration
	seq      int
}

var noon = time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)

func at(minute float64) time.Time { return noon.Add(time.Duration(minute * float64(time.Minute))) }

func newScene(required time.Duration) *scene {
	s := &scene{start: noon, required: required}
	s.q = commissioning.Quantity{
		Key: "viscosity", Label: "Ink viscosity", Unit: "mPa.s",
		Cadence: commissioning.Duration{Text: "3m", D: 3 * time.Minute}, MaxGap: commissioning.Duration{Text: "7m", D: 7 * time.Minute},
		Target: &commissioning.Target{Value: "3.90"}, Tolerance: &commissioning.Tolerance{Percent: "10"},
	}
	s.ex.Assessment.Hold.Required = required
	s.ex.Assessment.Hold.Verdict = rules.Pending
	s.ex.Late = map[int]bool{}
	return s
}

func (s *scene) next() int { s.seq++; return s.seq }

func (s *scene) started(minute float64) *scene {
	s.ex.Live = append(s.ex.Live, commissioning.Entry{Seq: s.next(), Kind: commissioning.KindStart, ObservedAt: at(minute)})
	return s
}

func (s *scene) fault(minute float64, kind string, expected, cleared bool) *scene {
	f := rules.FaultState{Entry: commissioning.Entry{Seq: s.next(), Kind: commissioning.KindFault, Fault: kind, ObservedAt: at(minute)}, Expected: expected}
	if cleared {
		f.ClearedBy = &commissioning.Entry{Seq: s.next(), Kind: commissioning.KindFaultCleared, ObservedAt: at(minute + 2), How: "restarted"}
	}
	s.ex.Faults = append(s.ex.Faults, f)
	return s
}

// every adds readings at a steady pace from a minute on.
func (s *scene) every(from, step float64, values ...float64) *scene {
	for i, v := range values {
		s.reading(from+float64(i)*step, v)
	}
	return s
}

func (s *scene) reading(minute, v float64) *rules.Point {
	return s.point(minute, v, 3.90, 3.51, 4.29)
}

func (s *scene) point(minute, v, target, lo, hi float64) *rules.Point {
	if len(s.ex.Series) == 0 {
		s.ex.Series = []rules.Series{{Quantity: s.q}}
	}
	text := func(f float64) string {
		if math.IsNaN(f) {
			return ""
		}
		return fmt.Sprintf("%.2f", f)
	}
	p := rules.Point{
		Entry: commissioning.Entry{Seq: s.next(), Kind: commissioning.KindReading, ObservedAt: at(minute), By: "L-0001", Via: "logger"},
		Value: text(v), Target: text(target), Lower: text(lo), Upper: text(hi), Good: v >= lo && v <= hi,
	}
	s.ex.Series[0].Points = append(s.ex.Series[0].Points, p)
	return &s.ex.Series[0].Points[len(s.ex.Series[0].Points)-1]
}

// judged finds the holds of the one quantity and closes the scene.
func (s *scene) judged() rules.Examination {
	if len(s.ex.Series) == 0 {
		s.ex.Series = []rules.Series{{Quantity: s.q}}
	}
	var from, to *rules.Point
	hold := &s.ex.Assessment.Hold
	s.ex.Holds, hold.Breaks = nil, nil
	end := func(cause string) {
		if from != nil && to.Entry.ObservedAt.After(from.Entry.ObservedAt) {
			a, b := from.Entry.ObservedAt, to.Entry.ObservedAt
			s.ex.Holds = append(s.ex.Holds, rules.Interval{From: a, To: b, Cause: cause, Running: cause == "", Enough: b.Sub(a) >= s.required})
			if cause != "" {
				hold.Breaks = append(hold.Breaks, rules.Break{At: b, Cause: cause, Condition: "viscosity"})
			} else {
				hold.From, hold.To, hold.Held = &a, &b, b.Sub(a)
				if b.Sub(a) >= s.required {
					hold.Verdict = rules.Pass
				}
			}
		}
		from, to = nil, nil
	}
	points := s.ex.Series[0].Points
	for i := range points {
		p := &points[i]
		switch {
		case p.Good && p.Late:
			continue
		case !p.Good:
			end("out_of_tolerance")
			continue
		case to != nil && p.Entry.ObservedAt.Sub(to.Entry.ObservedAt) > s.q.MaxGap.D:
			end("gap")
		}
		if from == nil {
			from = p
		}
		to = p
	}
	end("")
	return s.ex
}

// settles are readings that fall from above into the band.
func settles(n int, from, to, tau float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = math.Round(100*(to+(from-to)*math.Exp(-float64(i)/tau))) / 100
	}
	return out
}

// morning is the run that most pictures start from: two faults, a gap, one lucky
// reading, a hold that a low reading ended, and the next one.
func morning(upTo float64) *scene {
	s := newScene(60*time.Minute).started(30).fault(32, "pressure", true, true).fault(35, "gutter", true, true)
	all := map[float64]float64{
		43: 4.95, 46: 4.86, 49: 4.71, 57: 4.47, 60: 4.26, 63: 4.38, 66: 4.33, 69: 4.24, 72: 4.18, 75: 4.15, 78: 4.09, 81: 4.10,
		84: 4.04, 87: 3.98, 90: 3.95, 93: 3.89, 96: 3.80, 99: 3.72, 102: 3.61, 105: 3.45, 108: 3.58, 111: 3.70, 114: 3.78, 117: 3.83,
		120: 3.88, 123: 3.91, 126: 3.93, 129: 3.90, 132: 3.88, 135: 3.87, 138: 3.89, 141: 3.88, 144: 3.86, 147: 3.87, 150: 3.88,
		153: 3.87, 156: 3.86, 159: 3.85, 162: 3.86, 165: 3.87, 168: 3.88, 171: 3.87,
	}
	for m := 0.0; m <= upTo; m++ {
		if v, ok := all[m]; ok {
			s.reading(m, v)
		}
	}
	return s
}

// reading2 adds two good readings.
func (s *scene) reading2(a, b float64) *scene {
	s.reading(a, 3.9)
	s.reading(b, 3.9)
	return s
}
