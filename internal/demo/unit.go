package demo

import (
	"iter"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"settlemark/internal/commissioning"
)

// Unit is a simulated unit by itself, for a gateway to report. Its jet is started
// at From. The same fields give the same readings.
type Unit struct {
	Seed      uint64
	Procedure commissioning.Procedure
	From      time.Time
	For       time.Duration
	Faults    int           // how often the jet stops after its start and is started again
	DropOuts  int           // how often some checks in a row are lost on their way
	Drift     time.Duration // that its clock gains in an hour; negative when it loses
}

// Checks gives the readings of each check with the true instant at which they are made;
// the readings themselves say what the unit's clock shows.
func (u Unit) Checks() iter.Seq2[time.Time, []commissioning.Entry] {
	m := newMachine(u.Seed, 1, u.Procedure)
	most := int(u.For / m.cadence())
	chance := dice(u.Seed, 8)
	stops := spread(chance, u.Faults, 1, 8, 2) // while it settles anyway
	lost := spread(chance, u.DropOuts, 10, most, 5)
	return func(yield func(time.Time, []commissioning.Entry) bool) {
		last := u.From
		for check := 1; check <= most; check++ {
			at := u.From.Add(time.Duration(check) * m.cadence())
			readings := m.observe(u.From, last, at)
			if stops[check] {
				last = at.Add(m.cadence() / 2) // started again before the next check
				readings = stopped(readings)
			}
			for i := range readings {
				readings[i].ObservedAt = at.Add(time.Duration(at.Sub(u.From).Hours() * float64(u.Drift))).UTC().Round(time.Millisecond)
			}
			if !lost[check] && !yield(at, readings) {
				return
			}
		}
	}
}

// spread throws count stretches of 1 to longest checks, begun from first to before end.
func spread(chance *rand.Rand, count, first, end, longest int) map[int]bool {
	checks := map[int]bool{}
	for range count {
		begin := first + chance.IntN(max(1, end-first))
		for check := range 1 + chance.IntN(longest) {
			checks[begin+check] = true
		}
	}
	return checks
}

// stopped makes of what a running jet shows what one shows that has just stopped: not ready,
// hardly any pressure, and no ink that flows past to be measured.
func stopped(readings []commissioning.Entry) []commissioning.Entry {
	readings = slices.DeleteFunc(readings, func(e commissioning.Entry) bool { return e.Unit == "mPa.s" })
	for i, e := range readings {
		switch {
		case e.State != nil:
			readings[i].State, readings[i].Note = new(bool), "simulated: the jet has stopped with a fault"
		case e.Unit == "kPa":
			readings[i].Value = decimal(math.Floor(number(e.Value)/20), 0)
		}
	}
	return readings
}
