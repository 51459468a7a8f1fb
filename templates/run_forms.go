package templates

import (
	"strconv"
	"strings"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
)

// FormPage is the page on which an entry form stands.
type FormPage int

// Pages with entry forms. Every line's form stands on the page of the run.
const (
	OnRun FormPage = iota
	OnPad
	OnFaults
	OnMore
	OnPen
	OnCorrection
	OnCup
)

// PageOf finds the page by the name of the form.
func PageOf(form string) FormPage {
	switch form {
	case readingForm:
		return OnPad
	case "fault", "restart":
		return OnFaults
	case "note", "photo", "load", "empty", "stop", "start":
		return OnMore
	case "handover", penForm:
		return OnPen
	case cupForm:
		return OnCup
	case "correction":
		return OnCorrection
	}
	if seq, ok := strings.CutPrefix(form, "clear-"); ok {
		if _, err := strconv.Atoi(seq); err == nil {
			return OnFaults
		}
	}
	return OnRun
}

// penForm is the one by which an engineer takes the pen.
const penForm = "pen"

// Forms beside a line's first one carry its id with one of these endings.
const (
	notApplicableForm = ".na"
	anotherPhotoForm  = ".photo"
)

// LineOf gives the id of the line that a form belongs to.
func LineOf(form string) string {
	return strings.TrimSuffix(strings.TrimSuffix(form, notApplicableForm), anotherPhotoForm)
}

// astray says whether a refused form is not on its page any more: the pen went
// over, or the line does not exist. Its sentence then stands on top.
func (v RunView) astray() bool {
	form := v.Typed.Form
	switch {
	case v.Typed.Err == nil:
		return false
	case PageOf(form) == OnRun && v.Step(LineOf(form)) == nil:
		return true
	case form == penForm:
		return !v.Helps() || v.Writes()
	case form == "fault" || form == "note" || form == cupForm:
		return !v.Helps()
	}
	return !v.Writes()
}

// Standing gives what stands under a seq: the entry, or the replacement that a
// correction put in its place.
func (v RunView) Standing(seq string) (commissioning.Entry, bool) {
	n, err := strconv.Atoi(seq)
	if err != nil || n < 1 || n > len(v.Entries) {
		return commissioning.Entry{}, false
	}
	e := v.Entries[n-1]
	if e.Kind == commissioning.KindCorrection && e.Replacement != nil {
		r := *e.Replacement
		r.Seq, r.By = e.Seq, e.By
		return r, true
	}
	return e, true
}

// After is the section to show once a line was answered: the same one while it
// has open lines or was done before, else where the work stands.
func (v RunView) After(line string) int {
	section := v.SectionOf(line)
	for _, st := range v.Exam.Steps {
		if st.Section == section && !st.Answered {
			return section
		}
	}
	if here := v.Here(); here > section {
		return min(here, len(v.Procedure.Sections)-1)
	}
	return section
}

// SectionTitle of the section shown.
func (v RunView) SectionTitle() string {
	if v.Section < len(v.Procedure.Sections) {
		return v.Procedure.Sections[v.Section].Title
	}
	return "Run"
}

// Logbook is the run as the rules read it.
func (v RunView) Logbook() commissioning.Logbook {
	return commissioning.Logbook{
		Format: "settlemark.logbook/1",
		Run: commissioning.LogbookRun{
			ID:       string(v.Run.ID),
			Unit:     commissioning.LogbookUnit{Tag: v.Unit.Tag, Serial: v.Unit.Serial, Ink: v.Unit.Ink, Makeup: v.Unit.Makeup},
			Site:     commissioning.LogbookSite{Name: v.Site.Name, TimeZone: v.Site.TimeZone},
			OpenedAt: v.Run.OpenedAt,
		},
		Procedure: v.Procedure, Entries: v.Entries, At: v.Now,
	}
}

// freshSections are those of which RunLines sends the rows.
func (v RunView) freshSections() []SectionView {
	var fresh []SectionView
	here := v.Here()
	for _, s := range v.Sections() {
		if !s.Hold && (s.Index == here || s.Index == here-1) {
			fresh = append(fresh, s)
		}
	}
	return fresh
}

// freshLines are the rows that RunLines sends: not those of a sample, whose
// text is not for the second reader, and not those of a gate, which have no end.
func (v RunView) freshLines() []rules.StepState {
	var fresh []rules.StepState
	here := v.Here()
	for _, st := range v.Exam.Steps {
		near := st.Section == here || st.Section == here-1
		if near && st.Step.Ask != commissioning.AskSample && st.Step.Ask != commissioning.AskGate {
			fresh = append(fresh, st)
		}
	}
	return fresh
}

// RunPieces are the parts of a run's page that are the same for every viewer.
func RunPieces(v RunView) []Piece {
	v.Viewer = nil
	all := []Piece{
		{"top", RunTop(v)},
		{"pen", RunPen(v)},
		{"stick", RunStick(v)},
		{"gates", RunGates(v)},
		{"next", RunNext(v)},
		{"lines", RunLines(v)},
		{"record", RunRecord(v)},
		{"told", Told(v.Told)},
	}
	if v.hasHold() {
		all = append(all, Piece{"lead", RunLead(v)}, Piece{"chart", RunChart(v)}, Piece{"entries", RunEntries(v)}, Piece{"makeup", RunMakeUp(v)})
	}
	return all
}
