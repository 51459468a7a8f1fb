package rules

import (
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// viscosity walks back from the newest reading and counts the checks.
func (r *record) viscosity(s *series) ViscosityGate {
	gate := r.book.Procedure.Gates.Viscosity
	out := ViscosityGate{Required: gate.Checks}
	out.Checks = countChecks(s.evidence, gate)
	var found []finding
	if len(s.evidence) == 0 {
		found = append(found, pending("no_reading", "No reading of %s yet. Take one.", s.q.Label))
	} else {
		newest := s.evidence[len(s.evidence)-1]
		newest.print(s, &out)
		if out.Checks < gate.Checks {
			found = append(found, r.moreChecks(newest, out, gate))
		}
	}
	out.Finding, _ = r.settle(commissioning.GateViscosity, found)
	return out
}

// countChecks counts good readings at least the spacing apart, newest first,
// until there are enough or a bad one ends the walk.
func countChecks(evidence []*reading, gate commissioning.ViscosityGate) int {
	checks := 0
	var last time.Time
	for i := len(evidence) - 1; i >= 0 && checks < gate.Checks && evidence[i].good; i-- {
		at := evidence[i].entry.ObservedAt
		if checks > 0 && last.Sub(at) < gate.SpacingAtLeast.D {
			continue
		}
		evidence[i].counts = true
		last = at
		checks++
	}
	return checks
}

// print writes the newest reading beside its limits.
func (m *reading) print(s *series, out *ViscosityGate) {
	out.Value = m.value.Shown()
	if m.target != nil {
		out.Target = m.target.Shown()
		if m.target.Sign() != 0 {
			out.DeviationPercent = measure.Deviation(m.value, *m.target).String()
		}
	}
	if m.limits != nil {
		out.Lower, out.Upper = m.limits.Lower.Shown(), m.limits.Upper.Shown()
	}
	out.ConformanceProbability = s.conformance(m.measured)
}

func (r *record) moreChecks(newest *reading, out ViscosityGate, gate commissioning.ViscosityGate) finding {
	switch {
	case newest.code == "no_temperature":
		return pending(newest.code, "%s Read the temperature, then read again.", newest.why)
	case !newest.good:
		return pending(newest.code, "%s Leave the unit running and read again.", newest.why)
	}
	return finding{code: "more_checks", text: words.Many(gate.Checks,
		"%[2]d of %[1]d check good so far. Take the next one at %[3]s or later.", "%[2]d of %[1]d checks good so far. Take the next one at %[3]s or later.",
		out.Checks, r.clock(newest.entry.ObservedAt.Add(gate.SpacingAtLeast.D)))}
}
