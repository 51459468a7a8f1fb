package rules

import (
	"fmt"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// fluids judges loads and waste containers.
func (r *record) fluids() (FluidsGate, []LoadState, []Container, []DecisionNeeded) {
	loads, found := r.loads()
	containers, over := r.waste()
	var out FluidsGate
	var needed []DecisionNeeded
	out.Finding, needed = r.settle(commissioning.GateFluids, append(found, over...))
	return out, loads, containers, needed
}

// code gives the fluid code that a position or a step's fluid stands for.
func (r *record) code(fluid string) string {
	switch fluid {
	case string(commissioning.Ink):
		return r.book.Run.Unit.Ink
	case string(commissioning.MakeUp):
		return r.book.Run.Unit.Makeup
	}
	return fluid
}

func (r *record) loads() ([]LoadState, []finding) {
	loads := r.of(commissioning.KindLoad)
	latest := map[string]*commissioning.Entry{}
	for _, e := range loads {
		latest[e.Step] = e
	}
	states := make([]LoadState, 0, len(loads))
	var all []finding
	for _, e := range loads {
		step, named := r.book.Procedure.Step(e.Step)
		if !named {
			step = commissioning.Step{Position: e.Position, Fluid: string(e.Position)}
		}
		found := r.load(e, step)
		if named && latest[e.Step] == e {
			found = append(found, r.level(e, step)...)
		}
		state := LoadState{Entry: *e}
		for _, f := range found {
			state.Problems = append(state.Problems, f.text)
		}
		states = append(states, state)
		all = append(all, found...)
	}
	return states, all
}

// load compares one load with what its step asks.
func (r *record) load(e *commissioning.Entry, step commissioning.Step) []finding {
	var found []finding
	when, wanted := r.clock(e.ObservedAt), r.code(step.Fluid)
	switch {
	case e.Fluid != wanted:
		found = append(found, needsDecision(e.Seq, "wrong_fluid", "%s went into the %s position at %s; %s was asked for. The circuit has seen it.",
			e.Fluid, place(e.Position), when, wanted))
	case e.Position != step.Position:
		found = append(found, needsDecision(e.Seq, "wrong_position", "%s went into the %s position at %s; the step asks for the %s position.",
			e.Fluid, place(e.Position), when, place(step.Position)))
	}
	if day := e.ObservedAt.In(r.zone).Format(time.DateOnly); e.Expires < day {
		found = append(found, needsDecision(e.Seq, "expired", "%s loaded at %s had expired on %s.", e.Fluid, when, e.Expires))
	}
	if e.Lot == nil || strings.TrimSpace(*e.Lot) == "" {
		found = append(found, pending("no_lot", "%s loaded at %s has no lot. Correct the entry with the lot on the container.", e.Fluid, when))
	}
	return found
}

func (r *record) level(e *commissioning.Entry, step commissioning.Step) []finding {
	least := step.LevelAtLeastPercent
	if least == "" || measure.Must(e.LevelPercent).Cmp(measure.Must(least)) >= 0 {
		return nil
	}
	return []finding{pending("level_low", "%s loaded at %s was %s %% full; at least %s %% is asked for. Load a fuller container.",
		e.Fluid, r.clock(e.ObservedAt), words.Number(e.LevelPercent), words.Number(least))}
}

// bin is a waste container while its drains and empties are added up.
type bin struct {
	step   commissioning.Step
	limit  measure.Decimal
	volume measure.Decimal
}

// waste adds up each container in time order; a drain that leaves it above its
// limit needs a decision.
func (r *record) waste() ([]Container, []finding) {
	var order []*bin
	bins := map[string]*bin{}
	for _, section := range r.book.Procedure.Sections {
		for _, step := range section.Steps {
			if step.Ask == commissioning.AskDrain && bins[step.Container] == nil {
				b := &bin{step: step, limit: measure.PercentOf(measure.Must(step.CapacityML), measure.Must(step.FillAtMostPercent)).Reduced()}
				bins[step.Container] = b
				order = append(order, b)
			}
		}
	}
	var found []finding
	for _, e := range r.byTime {
		switch e.Kind {
		case commissioning.KindEmpty:
			bins[e.Container].volume = measure.Decimal{}
		case commissioning.KindDrain:
			b := bins[e.Container]
			b.volume = b.volume.Plus(measure.Must(e.VolumeML))
			if b.volume.Cmp(b.limit) > 0 {
				found = append(found, needsDecision(e.Seq, "waste_over_limit",
					"The drain at %s left %s mL in the container %s; at most %s mL may be in it. Empty it before the next drain.",
					r.clock(e.ObservedAt), words.Number(b.volume.Reduced().String()), e.Container, words.Number(b.limit.String())))
			}
		}
	}
	containers := make([]Container, len(order))
	for i, b := range order {
		containers[i] = b.show()
	}
	return containers, found
}

func (b *bin) show() Container {
	full := b.volume.Times(measure.Whole(100)).Over(measure.Must(b.step.CapacityML)).Round(0)
	return Container{
		Name: b.step.Container, CapacityML: b.step.CapacityML, LimitML: b.limit.String(),
		VolumeML: b.volume.Reduced().String(), PercentFull: fmt.Sprint(full), Over: b.volume.Cmp(b.limit) > 0,
	}
}
