package templates

import (
	"fmt"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// Fact is one line that a signer should have seen.
type Fact struct{ Icon, Name, Detail string }

// Missing lists what keeps the run from being signed: what more work passes.
// What only a supervisor can decide does not.
func (v RunView) Missing() []Need {
	a := v.Exam.Assessment
	var missing []Need
	for _, gate := range []struct {
		verdict rules.Verdict
		needs   func() []Need
	}{
		{a.Faults.Verdict, v.faultNeeds},
		{a.Fluids.Verdict, v.fluidNeeds},
		{a.Hold.Verdict, v.holdNeeds},
		{a.Viscosity.Verdict, v.viscosityNeeds},
		{a.Steps.Verdict, v.stepNeeds},
	} {
		if gate.verdict == rules.Pending {
			missing = append(missing, gate.needs()...)
		}
	}
	if len(missing) == 0 && len(a.Steps.Open) > 0 {
		missing = v.stepNeeds()
	}
	return missing
}

// Odd lists what a reader of the record will ask about.
func (v RunView) Odd() []Fact {
	var odd []Fact
	if back := v.lastReturn(); back != nil {
		odd = append(odd, Fact{"look", "Sent back", v.Clock(back.At) + " by " + back.By + ": " + back.Reason})
	}
	for _, d := range v.Exam.Assessment.DecisionsNeeded {
		odd = append(odd, Fact{"look", fmt.Sprintf("Entry %d", d.Ref), measure.Signs(d.Text.String()) + " A supervisor decides."})
	}
	late := 0
	for seq := range v.Exam.Late {
		if _, struck := v.Exam.Struck[seq]; !struck {
			late++
		}
	}
	if late > 0 {
		odd = append(odd, Fact{"late", "Late", fmt.Sprintf("%d typed long after they were taken", late)})
	}
	if n := len(v.Exam.Struck); n > 0 {
		odd = append(odd, Fact{"void", "Corrections", words.Count(n, "entry") + " struck out"})
	}
	if n := len(v.Exam.Assessment.Hold.Breaks); n > 0 {
		odd = append(odd, Fact{"look", "Hold", "started again " + times(n)})
	}
	if n := len(v.Exam.Assessment.Ignored); n > 0 {
		odd = append(odd, Fact{"look", "Left out", words.Count(n, "entry") + " dated later than now"})
	}
	for _, e := range v.Exam.Live {
		if e.Kind == commissioning.KindStep && e.Outcome == commissioning.NotApplicable {
			odd = append(odd, Fact{"open", "Does not apply", v.StepText(e.Step) + ": " + e.Note})
		}
	}
	return odd
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}
