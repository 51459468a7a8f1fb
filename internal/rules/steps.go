package rules

import (
	"slices"
	"strings"

	"settlemark/internal/commissioning"
)

// answers finds the live answers of each step by (observed_at, seq), and the
// entry that stands for each step's place in time.
type answers struct {
	of    map[string][]*commissioning.Entry
	place map[string]*commissioning.Entry
}

func (r *record) answers() *answers {
	a := &answers{of: map[string][]*commissioning.Entry{}, place: map[string]*commissioning.Entry{}}
	steps := map[string]commissioning.Step{}
	for _, section := range r.book.Procedure.Sections {
		for _, step := range section.Steps {
			steps[step.ID] = step
		}
	}
	photo, text := map[string]bool{}, map[string]bool{} // what samples have so far
	for _, e := range r.byTime {
		step, named := steps[e.Step]
		if !named || !answersStep(e, step) {
			continue
		}
		a.of[step.ID] = append(a.of[step.ID], e)
		if step.Ask == commissioning.AskSample && e.Outcome != commissioning.NotApplicable {
			photo[step.ID] = photo[step.ID] || e.Kind == commissioning.KindPhoto
			text[step.ID] = text[step.ID] || e.Kind == commissioning.KindStep
			if !photo[step.ID] || !text[step.ID] {
				continue
			}
		}
		if a.place[step.ID] == nil {
			a.place[step.ID] = e
		}
	}
	return a
}

// kindFor names the kind of entry that answers a step; other steps by a step entry.
var kindFor = map[commissioning.Ask]commissioning.Kind{
	commissioning.AskDrain: commissioning.KindDrain,
	commissioning.AskLoad:  commissioning.KindLoad,
	commissioning.AskPhoto: commissioning.KindPhoto,
	commissioning.AskStart: commissioning.KindStart,
}

// answersStep says whether an entry that names a step answers it, or a part of it.
func answersStep(e *commissioning.Entry, step commissioning.Step) bool {
	if e.Kind == commissioning.KindStep && e.Outcome == commissioning.NotApplicable {
		return step.Optional && strings.TrimSpace(e.Note) != ""
	}
	switch step.Ask {
	case commissioning.AskGate:
		return false
	case commissioning.AskSample:
		return e.Kind == commissioning.KindStep || e.Kind == commissioning.KindPhoto
	}
	if kind, other := kindFor[step.Ask]; other {
		return e.Kind == kind
	}
	return e.Kind == commissioning.KindStep
}

// checklist judges the steps. passed says which gates pass.
type checklist struct {
	r      *record
	a      *answers
	values map[string]*gauge
	passed map[string]bool
	found  []finding
	open   []string
	states []StepState
}

// steps judges the checklist; measured is what was found of the instruments.
func (r *record) steps(gauges []*gauge, measured []finding, passed map[string]bool) (StepsGate, []StepState, []DecisionNeeded) {
	c := &checklist{r: r, a: r.answers(), values: map[string]*gauge{}, passed: passed, open: []string{}}
	for _, g := range gauges {
		c.values[g.q.Key] = g
	}
	var above *commissioning.Entry // place of the last answered step above
	for i, section := range r.book.Procedure.Sections {
		above = c.section(i, section, above)
	}
	out := StepsGate{Open: c.open}
	var needed []DecisionNeeded
	out.Finding, needed = r.settle(commissioning.GateSteps, append(c.found, measured...))
	undecided := map[int]bool{}
	for _, d := range needed {
		undecided[d.Ref] = true
	}
	for i := range c.states {
		c.states[i].NeedsDecision = slices.ContainsFunc(c.states[i].Answers, func(e commissioning.Entry) bool { return undecided[e.Seq] })
	}
	return out, c.states, needed
}

// section judges one section and gives the place that the next one compares with.
func (c *checklist) section(i int, section commissioning.Section, above *commissioning.Entry) *commissioning.Entry {
	latest := above
	for _, step := range section.Steps {
		place := c.a.place[step.ID]
		c.state(i, step, place)
		if place == nil || step.Ask == commissioning.AskGate {
			continue
		}
		compare := latest
		if section.AnyOrder {
			compare = above
		}
		if compare != nil && place.ObservedAt.Before(compare.ObservedAt) {
			c.found = append(c.found, needsDecision(place.Seq, "out_of_order", "Step “%s” was answered at %s, before the step above it at %s.",
				step.Text, c.r.clock(place.ObservedAt), c.r.clock(compare.ObservedAt)))
		}
		if !section.AnyOrder || latest == above || place.ObservedAt.After(latest.ObservedAt) {
			latest = place
		}
	}
	return latest
}

// state judges one step by itself: is it answered, are its values inside.
func (c *checklist) state(section int, step commissioning.Step, place *commissioning.Entry) {
	state := StepState{Section: section, Step: step, Answered: place != nil}
	if step.Ask == commissioning.AskGate {
		state.Answered = place != nil || c.passed[step.Gate]
	}
	for _, e := range c.a.of[step.ID] {
		state.Answers = append(state.Answers, *e)
		if step.Ask == commissioning.AskValue && e.Outcome == commissioning.Done {
			if m := c.values[step.Quantity].judge(e); !m.good {
				c.found = append(c.found, finding{m.code, m.why, e.Seq})
			}
		}
	}
	switch {
	case state.Answered:
	case step.Ask == commissioning.AskGate:
		c.found = append(c.found, pending("gate_open", "Step “%s” waits until the %s gate passes.", step.Text, gateNames[step.Gate]))
	default:
		c.found = append(c.found, pending("step_open", "Step “%s” has no answer yet. Answer it.", step.Text))
	}
	if !state.Answered {
		c.open = append(c.open, step.ID)
	}
	c.states = append(c.states, state)
}
