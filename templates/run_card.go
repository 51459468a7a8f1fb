package templates

import (
	"strconv"

	"github.com/a-h/templ"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

func cautionTitles(all []commissioning.Caution) words.Text {
	titles := make([]words.Text, len(all))
	for i, c := range all {
		titles[i] = c.Title
	}
	return words.Join(", ", titles...)
}

// newCaution says whether a section brings a caution that none above it had.
func (v RunView) newCaution(s SectionView) bool {
	seen := map[string]bool{}
	for _, above := range v.Procedure.Sections[:s.Index] {
		for _, key := range above.Cautions {
			seen[key] = true
		}
	}
	for _, key := range s.Section.Cautions {
		if !seen[key] {
			return true
		}
	}
	return false
}

func (v RunView) cardSub(s SectionView) words.Text {
	sub := words.Say("Section %d of %d. %d of %d lines done.", s.Index+1, len(v.Procedure.Sections), s.Done(), len(s.Lines))
	if s.Section.AnyOrder {
		sub = words.Sentences(sub, words.Say("In any order."))
	}
	return sub
}

func lineLook(l rules.StepState) string {
	switch {
	case l.NeedsDecision:
		return "ruling"
	case l.Answered:
		return "done"
	}
	return "todo"
}

// lineOpen opens one line of a section: the one that was refused, else the
// first without an answer.
func (v RunView) lineOpen(s SectionView, l rules.StepState) bool {
	for _, other := range s.Lines {
		if v.Typed.Form == other.Step.ID {
			return other.Step.ID == l.Step.ID
		}
	}
	return !s.Hold && v.firstOpen(s) == l.Step.ID
}

// foldGroup names folds of which one is open at a time. Each rendering has a
// name of its own: a swap puts the new folds in before the old ones are gone,
// and the browser would shut the one that opens in them.
func (v RunView) foldGroup(name string) string {
	return name + "-" + strconv.FormatInt(v.Now.UnixMilli(), 36)
}

func (v RunView) firstOpen(s SectionView) string {
	if !s.Shut.Empty() {
		return ""
	}
	for _, l := range s.Lines {
		if !l.Answered {
			return l.Step.ID
		}
	}
	return ""
}

// lineFocus moves the focus to the next line after one was saved.
func (v RunView) lineFocus(s SectionView, l rules.StepState) templ.Attributes {
	if v.Saved > 0 && s.Index == v.Section && v.firstOpen(s) == l.Step.ID {
		return templ.Attributes{"autofocus": true}
	}
	return nil
}

func hasStart(s SectionView) bool {
	for _, l := range s.Lines {
		if l.Step.Ask == commissioning.AskStart {
			return true
		}
	}
	return false
}

// gateReasons of a gate step.
func (v RunView) gateReasons(gate string) []rules.Reason {
	a := v.Exam.Assessment
	switch gate {
	case "viscosity":
		return a.Viscosity.Reasons
	case "hold":
		return a.Hold.Reasons
	case "fluids":
		return a.Fluids.Reasons
	case "faults":
		return a.Faults.Reasons
	}
	return nil
}

// FaultPlace is one fault that happened, or the empty place of one that may.
type FaultPlace struct {
	Look, Icon  string
	Name, Small words.Text
}

func (v RunView) faultPlaces() []FaultPlace {
	var places []FaultPlace
	for _, kind := range v.Procedure.Faults.Expected {
		seen := v.faultsOf(kind.Kind)
		for i, f := range seen {
			places = append(places, v.faultPlace(f, i < kind.AtMost))
		}
		for i := len(seen); i < kind.AtMost; i++ {
			places = append(places, FaultPlace{"empty", "quiet", faultName(kind.Kind), words.Say("may happen at the start")})
		}
	}
	for _, kind := range append(v.Procedure.Faults.Others, "other") {
		for _, f := range v.faultsOf(kind) {
			places = append(places, v.faultPlace(f, false))
		}
	}
	return places
}

func (v RunView) faultsOf(kind string) []rules.FaultState {
	var seen []rules.FaultState
	for _, f := range v.Exam.Faults {
		if f.Entry.Fault == kind {
			seen = append(seen, f)
		}
	}
	return seen
}

func (v RunView) faultPlace(f rules.FaultState, expected bool) FaultPlace {
	at := v.Clock(f.Entry.ObservedAt)
	if f.ClearedBy == nil {
		return FaultPlace{"open", "stop", faultName(f.Entry.Fault), words.Say("%s, not cleared", at)}
	}
	small := words.Say("%s, cleared %s", at, v.Clock(f.ClearedBy.ObservedAt))
	if !expected {
		return FaultPlace{"beyond", "stop", faultName(f.Entry.Fault), words.Say("%s, a supervisor decides", small)}
	}
	return FaultPlace{"cleared", "fault", faultName(f.Entry.Fault), small}
}
