package rules

import (
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
)

// Stability says how steady one quantity was over the hold that the assessment
// reports. It is advice for the one who countersigns: inside the limits a
// reading may still drift. It decides no gate.
type Stability struct {
	Quantity    commissioning.Quantity
	From, To    time.Time // the hold
	Hours       []float64 // of its readings, after From
	Values      []float64 // the same readings
	State       string    // drifting, steady, too_few
	Trend       measure.Trend
	Individuals measure.Individuals

	PerHour        float64 // Sen's slope
	Lowest, Utmost float64 // its 90 % interval, when Bounded
	Bounded        bool
}

// States of a stability.
const (
	Drifting = "drifting"
	Steady   = "steady"
	TooFew   = "too_few"
)

// A drift is said where its chance without one is below this to its own side; so
// it goes with the 90 % interval of the slope. Common practice, no source.
const driftChance = 0.05

// Pairs grow with the square: of a longer hold so many readings stand for all.
const trendReadings = 200

// Stability of each quantity with a unit that the hold asks for; none without a hold.
func (x Examination) Stability(hold commissioning.HoldGate) []Stability {
	from, to := x.Assessment.Hold.From, x.Assessment.Hold.To
	if from == nil || to == nil {
		return nil
	}
	var out []Stability
	for _, key := range hold.Conditions {
		for _, s := range x.Series {
			if s.Quantity.Key == key && s.Quantity.State == nil {
				out = append(out, s.stability(*from, *to))
			}
		}
	}
	return out
}

func (s Series) stability(from, to time.Time) Stability {
	hours, values := s.within(from, to)
	out := Stability{Quantity: s.Quantity, From: from, To: to, Hours: hours, Values: values, State: TooFew}
	out.Individuals = measure.FindIndividuals(hours, values, s.Quantity.MaxGap.D.Hours())
	out.Trend = measure.FindTrend(thin(hours), thin(values))
	if !measure.Decides(out.Trend.N, driftChance) {
		return out
	}
	out.State, out.PerHour = Steady, out.Trend.Slope
	if out.Trend.Chance < driftChance {
		out.State = Drifting
	}
	out.Lowest, out.Utmost, out.Bounded = out.Trend.Between(0.9)
	return out
}

// within gives the readings that stand as evidence from one instant to another,
// in hours; of one instant the newest entry counts.
func (s Series) within(from, to time.Time) (hours, values []float64) {
	for _, p := range s.Points {
		at := p.Entry.ObservedAt
		if at.Before(from) || at.After(to) || p.Late {
			continue
		}
		hour, value := at.Sub(from).Hours(), measure.Must(p.Value).Float()
		if last := len(hours) - 1; last >= 0 && hours[last] == hour {
			values[last] = value
			continue
		}
		hours, values = append(hours, hour), append(values, value)
	}
	return hours, values
}

// thin takes every so-many-th value of a long list, the newest among them.
func thin(all []float64) []float64 {
	every := (len(all) + trendReadings - 1) / trendReadings
	if every < 2 {
		return all
	}
	var kept []float64
	for i := (len(all) - 1) % every; i < len(all); i += every {
		kept = append(kept, all[i])
	}
	return kept
}
