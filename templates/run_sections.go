package templates

import (
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// SectionView is one notch of the stick with the card behind it.
type SectionView struct {
	Index   int
	Title   string
	State   string     // done, now, todo
	Small   words.Text // one short line under the title
	Shut    words.Text // why its lines cannot be answered yet, empty when they can
	Hold    bool       // its work is watching the unit settle and hold
	Section commissioning.Section
	Lines   []rules.StepState
}

// Done is the number of lines with an answer.
func (s SectionView) Done() int {
	n := 0
	for _, l := range s.Lines {
		if l.Answered {
			n++
		}
	}
	return n
}

// Sections in the order of the procedure, each with its state. The first
// section with an open line is where the work stands.
func (v RunView) Sections() []SectionView {
	out := make([]SectionView, len(v.Procedure.Sections))
	for i, s := range v.Procedure.Sections {
		out[i] = SectionView{Index: i, Title: s.Title, Section: s}
	}
	for _, st := range v.Exam.Steps {
		s := &out[st.Section]
		s.Lines = append(s.Lines, st)
		s.Hold = s.Hold || st.Step.Ask == commissioning.AskGate
	}
	here := v.Here()
	for i := range out {
		out[i].State = sectionState(out[i], i, here)
		out[i].Shut = v.shut(out, i, here)
	}
	for i := range out {
		out[i].Small = v.small(out[i], out, here)
	}
	return out
}

func sectionState(s SectionView, i, here int) string {
	switch {
	case i == here:
		return "now"
	case s.Done() == len(s.Lines):
		return "done"
	}
	return "todo"
}

// Here is the index of the first section with an open line; the number of
// sections when all are done.
func (v RunView) Here() int {
	for _, st := range v.Exam.Steps {
		if !st.Answered {
			return st.Section
		}
	}
	return len(v.Procedure.Sections)
}

// A section opens when everything above it is done. One that was begun stays
// open: a run that was sent back, or a hold that lapsed, does not lock it again.
func (v RunView) shut(all []SectionView, i, here int) words.Text {
	if i <= here || here >= len(all) || v.Preview {
		return words.Text{}
	}
	for _, s := range all[i:] {
		if hasAnswer(s) {
			return words.Text{}
		}
	}
	switch at, soon := v.holdEnds(); {
	case all[here].Hold && soon:
		return words.Say("Opens when the hold is complete, %s at the earliest.", at)
	case all[here].Hold:
		return words.Say("Opens when the hold is complete, after %s of hold.", minutesText(v.Exam.Assessment.Hold.Required))
	}
	return words.Say("Opens when “%s” is done.", all[i-1].Title)
}

func hasAnswer(s SectionView) bool {
	for _, l := range s.Lines {
		if len(l.Answers) > 0 {
			return true
		}
	}
	return false
}

// opens says in a few words when what waits for the hold can open.
func (v RunView) opens() words.Text {
	if at, soon := v.holdEnds(); soon {
		return words.Say("opens %s at the earliest", at)
	}
	return words.Say("opens after %s of hold", minutesText(v.Exam.Assessment.Hold.Required))
}

// holdEnds is the earliest end of a hold that runs.
func (v RunView) holdEnds() (at string, runs bool) {
	if at := v.Exam.Assessment.Hold.EarliestPass; at != nil && at.After(v.Now) {
		return v.Clock(ceilMinute(*at)), true
	}
	return "", false
}

func (v RunView) small(s SectionView, all []SectionView, here int) words.Text {
	switch s.State {
	case "done":
		return v.smallDone(s)
	case "now":
		if asksGate(s, commissioning.GateHold) {
			return v.holdShort()
		}
		if g := v.Exam.Assessment.Viscosity; s.Hold {
			return words.Say("%d of %d checks in band", g.Checks, g.Required)
		}
		return words.Say("%d of %d lines", s.Done(), len(s.Lines))
	}
	if !s.Shut.Empty() && s.Index == here+1 && all[here].Hold {
		return words.Say("opens after %s", all[here].Title)
	}
	if len(s.Lines) == 1 {
		return words.Text{}
	}
	return words.Many(len(s.Lines), "%d line", "%d lines")
}

func (v RunView) smallDone(s SectionView) words.Text {
	var last time.Time
	drained, loads, starts := measure.Decimal{}, 0, 0
	for _, l := range s.Lines {
		for _, a := range l.Answers {
			if a.ObservedAt.After(last) {
				last = a.ObservedAt
			}
			switch a.Kind {
			case commissioning.KindDrain:
				drained = drained.Plus(measure.Must(a.VolumeML))
			case commissioning.KindLoad:
				loads++
			case commissioning.KindStart:
				starts++
			}
		}
	}
	if s.Hold && asksGate(s, commissioning.GateHold) {
		return v.holdShort()
	}
	if s.Hold && last.IsZero() {
		return v.settledShort()
	}
	at := v.Clock(last)
	switch {
	case starts > 0 && len(v.Exam.Faults) > 0:
		return words.Say("%s, %s", words.Many(len(v.Exam.Faults), "%d fault", "%d faults"), at)
	case drained.Sign() > 0:
		return words.Say("%s mL, %s", words.Number(drained.String()), at)
	case loads > 0:
		return words.Say("%s, %s", containerCount(loads), at)
	}
	return words.Plain(at)
}

// holdShort is the hold in a few words.
func (v RunView) holdShort() words.Text {
	h := v.Exam.Assessment.Hold
	need := minutesText(h.Required)
	switch {
	case h.Verdict == rules.Pass:
		return words.Say("%s proven", need)
	case h.EarliestPass != nil:
		return words.Say("%s proven", heldOf(h.Held, h.Required))
	case len(h.Breaks) > 0:
		return words.Say("stopped at %s", v.Clock(h.Breaks[len(h.Breaks)-1].At))
	}
	return words.Say("%s proven", words.Say("%d of %s", 0, need))
}

func asksGate(s SectionView, gate string) bool {
	for _, l := range s.Lines {
		if l.Step.Ask == commissioning.AskGate && l.Step.Gate == gate {
			return true
		}
	}
	return false
}

// settledShort is when the checks that count came into the band.
func (v RunView) settledShort() words.Text {
	points := v.Series(v.Viscosity()).Points
	if len(points) == 0 || !points[len(points)-1].Good {
		return words.Text{}
	}
	return words.Say("in band %s", v.Clock(goodSince(points)))
}

// HoldSection is the section whose gate is the hold, the last one when none is.
func (v RunView) HoldSection() int {
	for _, st := range v.Exam.Steps {
		if st.Step.Ask == commissioning.AskGate && st.Step.Gate == commissioning.GateHold {
			return st.Section
		}
	}
	return len(v.Procedure.Sections) - 1
}

// StepText finds a step's own sentence.
func (v RunView) StepText(id string) string {
	for _, st := range v.Exam.Steps {
		if st.Step.ID == id {
			return st.Step.Text
		}
	}
	return id
}

// SectionOf gives the index of the section that holds a step, 0 when unknown.
func (v RunView) SectionOf(step string) int {
	for _, st := range v.Exam.Steps {
		if st.Step.ID == step {
			return st.Section
		}
	}
	return 0
}
