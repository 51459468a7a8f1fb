package templates

import (
	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// Fact is one line that a signer should have seen.
type Fact struct {
	Icon         string
	Name, Detail words.Text
}

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
		odd = append(odd, Fact{"look", words.Say("Sent back"), words.Say("%s by %s: %s", v.Clock(back.At), back.By, back.Reason)})
	}
	for _, d := range v.Exam.Assessment.DecisionsNeeded {
		odd = append(odd, Fact{"look", words.Say("Entry %d", d.Ref), words.Sentences(d.Text, words.Say("A supervisor decides."))})
	}
	late := 0
	for seq := range v.Exam.Late {
		if _, struck := v.Exam.Struck[seq]; !struck {
			late++
		}
	}
	if late > 0 {
		odd = append(odd, Fact{"late", words.Say("Late"), words.Many(late, "%d typed long after it was taken", "%d typed long after they were taken")})
	}
	if n := len(v.Exam.Struck); n > 0 {
		odd = append(odd, Fact{"void", words.Say("Corrections"), words.Many(n, "%d entry struck out", "%d entries struck out")})
	}
	if n := len(v.Exam.Assessment.Hold.Breaks); n > 0 {
		odd = append(odd, Fact{"look", words.Say("Hold"), startedAgain(n)})
	}
	if n := len(v.Exam.Assessment.Ignored); n > 0 {
		odd = append(odd, Fact{"look", words.Say("Left out"), words.Many(n, "%d entry dated later than now", "%d entries dated later than now")})
	}
	for _, e := range v.Exam.Live {
		if e.Kind == commissioning.KindStep && e.Outcome == commissioning.NotApplicable {
			odd = append(odd, Fact{"open", words.Say("Does not apply"), words.Plain(v.StepText(e.Step) + ": " + e.Note)})
		}
	}
	return odd
}

func startedAgain(n int) words.Text {
	if n == 1 {
		return words.Say("started again once")
	}
	return words.Say("started again %d times", n)
}
