package rules

import (
	"slices"
	"time"

	"settlemark/internal/commissioning"
)

// faults judges starts, faults and clearings.
func (r *record) faults(m *machine, all []*series) (FaultsGate, []FaultState, []DecisionNeeded) {
	out := FaultsGate{Count: len(m.faults), Open: []int{}, BeyondExpected: []int{}}
	states := make([]FaultState, 0, len(m.faults))
	var found []finding
	switch {
	case !m.started():
		found = append(found, pending("not_started", "The jet has not been started yet. Record the start."))
	case m.stopped():
		found = append(found, pending("stopped", "The jet is stopped. Start it again and record the start."))
	}
	allowed, happened := r.allowedFaults(), map[string]int{}
	for _, f := range m.faults {
		e := f.entry
		name := commissioning.FaultName(e.Fault)
		state := FaultState{Entry: *e, ClearedBy: f.cleared}
		if f.cleared == nil {
			out.Open = append(out.Open, e.Seq)
			found = append(found, pending("fault_open", "The %s fault of %s is open. Clear it and record how.", name, r.clock(e.ObservedAt)))
		}
		happened[e.Fault]++
		if state.Expected = happened[e.Fault] <= allowed[e.Fault]; !state.Expected {
			out.BeyondExpected = append(out.BeyondExpected, e.Seq)
			found = append(found, needsDecision(e.Seq, "beyond_expected",
				"The %s fault of %s is number %d of its kind; the procedure allows %d.", name, r.clock(e.ObservedAt), happened[e.Fault], allowed[e.Fault]))
		}
		states = append(states, state)
	}
	found = append(found, r.readyAgain(m, all)...)
	slices.Sort(out.Open)
	slices.Sort(out.BeyondExpected)
	var needed []DecisionNeeded
	out.Finding, needed = r.settle(commissioning.GateFaults, found)
	return out, states, needed
}

func (r *record) allowedFaults() map[string]int {
	allowed := map[string]int{}
	for _, expected := range r.book.Procedure.Faults.Expected {
		allowed[expected.Kind] = expected.AtMost
	}
	return allowed
}

// readyAgain asks for a good reading of each state condition after the last clearing.
func (r *record) readyAgain(m *machine, all []*series) []finding {
	var last time.Time
	for _, f := range m.faults {
		if f.cleared != nil && f.cleared.ObservedAt.After(last) {
			last = f.cleared.ObservedAt
		}
	}
	if last.IsZero() {
		return nil
	}
	var found []finding
	for _, key := range r.book.Procedure.Gates.Hold.Conditions {
		i := slices.IndexFunc(all, func(s *series) bool { return s.q.Key == key })
		s := all[i]
		again := func(now *reading) bool { return now.good && !now.at().Before(last) }
		if s.q.State != nil && !slices.ContainsFunc(s.moments(), again) {
			found = append(found, pending("not_ready_again", "%s has not been seen as required since the fault was cleared at %s. Read it.",
				s.q.Label, r.clock(last)))
		}
	}
	return found
}
