package rules

import (
	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
)

// instruments holds what the run names to measure with against each live value
// of its kind: a reading, or the answer to a step that asks for one. Which of
// two instruments of a kind took a value is not recorded, so both answer for it.
func (r *record) instruments(gauges []*gauge) ([]InstrumentState, []finding) {
	byKey := map[string]*gauge{}
	for _, g := range gauges {
		byKey[g.q.Key] = g
	}
	var states []InstrumentState
	var found []finding
	for _, i := range r.book.Run.Instruments {
		state := InstrumentState{Instrument: i}
		for _, e := range r.byTime {
			g := byKey[r.measuredIn(e)]
			if g == nil || !g.takes(i) {
				continue
			}
			if state.Overdue == nil && i.Overdue(e.ObservedAt, r.zone) {
				state.Overdue = e
				found = append(found, needsDecision(e.Seq, "instrument_overdue", "The calibration of %s (%s) was due on %s; %s was measured at %s, after that day.",
					i.Code, i.Name, i.Due, g.q.Label, r.clock(e.ObservedAt)))
			}
			if state.Coarse == nil && g.coarser(i, e) {
				state.Coarse = e
				found = append(found, needsDecision(e.Seq, "instrument_coarse", "%s (%s) is less sure of %s at %s than the procedure counts with: %s, against %s.",
					i.Code, i.Name, g.q.Label, r.clock(e.ObservedAt), i.UncertaintyInWords(), g.q.Uncertainty.SizeInWords(g.q.Unit)))
			}
		}
		states = append(states, state)
	}
	return states, found
}

// measuredIn is the key of the quantity that an entry gives a value of, "" when
// it gives none.
func (r *record) measuredIn(e *commissioning.Entry) string {
	switch {
	case e.Kind == commissioning.KindReading:
		return e.Quantity
	case e.Kind == commissioning.KindStep && e.Outcome == commissioning.Done && e.Value != "":
		step, _ := r.book.Procedure.Step(e.Step)
		return step.Quantity
	}
	return ""
}

// takes says whether the instrument measures what this gauge is about.
func (g *gauge) takes(i commissioning.Instrument) bool {
	kind, known := measure.KindOf(g.q.Unit)
	return known && kind == i.Quantity
}

// coarser says whether the instrument's standard uncertainty at a value, U/k, is
// above the one that the procedure counts with. Where it counts with none there
// is nothing to compare.
func (g *gauge) coarser(i commissioning.Instrument, e *commissioning.Entry) bool {
	if g.q.Uncertainty == nil {
		return false
	}
	value, _ := measure.Convert(measure.Must(e.Value), e.Unit, g.q.Unit)
	var own measure.Decimal
	if i.Unit == commissioning.PercentOfValue {
		own = measure.PercentOf(value, measure.Must(i.Uncertainty)).Abs()
	} else {
		own, _ = measure.ConvertDifference(measure.Must(i.Uncertainty), i.Unit, g.q.Unit)
	}
	return own.Times(g.coverage()).Cmp(g.expanded(value).Abs().Times(measure.Must(i.K))) > 0
}
