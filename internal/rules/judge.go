package rules

import (
	"slices"
	"time"

	"settlemark/internal/commissioning"
)

// Judge gives the assessment of a logbook at an instant. The logbook was read
// by commissioning.ParseLogbook, or each entry by commissioning.DecodeEntry.
func Judge(book commissioning.Logbook, at time.Time) Assessment {
	x, _ := examine(&book, at)
	return x.Assessment
}

// Examine is Judge with all that the assessment was read from.
func Examine(book commissioning.Logbook, at time.Time) Examination {
	x, all := examine(&book, at)
	for _, s := range all {
		x.Series = append(x.Series, s.show())
	}
	return x
}

// examine judges; the series are shown only to those who ask, since a long run
// has thousands of points.
func examine(book *commissioning.Logbook, at time.Time) (Examination, []*series) {
	r := readRecord(book, at)
	gauges := r.gauges()
	all := r.observe(gauges)
	m := r.machine()

	x := Examination{Live: r.live, Struck: r.struck, Late: r.late, Rulings: r.rulings}
	a := Assessment{At: at, Ignored: r.ignored, DecisionsNeeded: []DecisionNeeded{}}
	var steps, fluids, faults []DecisionNeeded
	a.Fluids, x.Loads, x.Containers, fluids = r.fluids()
	a.Faults, x.Faults, faults = r.faults(m, all)
	i := slices.IndexFunc(all, func(s *series) bool { return s.q.Key == book.Procedure.Gates.Viscosity.Quantity })
	a.Viscosity = r.viscosity(all[i])
	a.Hold, x.Holds = r.holding(m, all).judge()
	var measured []finding
	x.Instruments, measured = r.instruments(gauges)
	a.Steps, x.Steps, steps = r.steps(gauges, measured, map[string]bool{
		commissioning.GateFluids:    a.Fluids.Verdict == Pass,
		commissioning.GateFaults:    a.Faults.Verdict == Pass,
		commissioning.GateViscosity: a.Viscosity.Verdict == Pass,
		commissioning.GateHold:      a.Hold.Verdict == Pass,
	})
	a.DecisionsNeeded = slices.Concat(a.DecisionsNeeded, steps, fluids, faults)
	a.Verdict = runVerdict(a.Steps.Verdict, a.Fluids.Verdict, a.Faults.Verdict, a.Viscosity.Verdict, a.Hold.Verdict)
	x.Assessment = a
	return x, all
}

// runVerdict joins the gates: releasable when all pass, blocked when only a
// person can help, else not yet.
func runVerdict(gates ...Verdict) Verdict {
	worst := Pass
	for _, g := range gates {
		if severity[g] > severity[worst] {
			worst = g
		}
	}
	switch worst {
	case Pass:
		return Releasable
	case Pending:
		return NotYet
	}
	return Blocked
}
