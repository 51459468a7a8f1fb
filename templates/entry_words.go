package templates

import (
	"fmt"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/templates/parts"
)

// What says an entry in two parts: what it is about, and what was found.
func (v RunView) What(e commissioning.Entry) (about, found string) {
	switch e.Kind {
	case commissioning.KindStep:
		return v.StepText(e.Step), v.Answer(e)
	case commissioning.KindReading:
		return v.Label(e.Quantity), v.Answer(e)
	case commissioning.KindStart:
		return "Jet started", ""
	case commissioning.KindStop:
		return "Jet stopped on purpose", ""
	case commissioning.KindFault:
		return faultName(e.Fault) + " fault", ""
	case commissioning.KindFaultCleared:
		return faultName(v.Entry(e.Ref).Fault) + " fault cleared", e.How
	case commissioning.KindLoad:
		return parts.PositionName(e.Position).String() + " container put in", v.Answer(e)
	case commissioning.KindDrain:
		return v.StepText(e.Step), v.Answer(e)
	case commissioning.KindEmpty:
		return "Waste container “" + e.Container + "” emptied", e.Route
	case commissioning.KindDisposition:
		return fmt.Sprintf("Ruling on entry %d: %sed", e.Ref, e.Decision), e.Reason
	case commissioning.KindCorrection:
		return v.correctionWords(e), e.Reason
	case commissioning.KindNote:
		return "Note", e.Text
	case commissioning.KindPhoto:
		if e.Step != "" {
			return v.StepText(e.Step), "photo"
		}
		return "Photo", ""
	}
	return string(e.Kind), ""
}

func (v RunView) correctionWords(e commissioning.Entry) string {
	if e.Replacement == nil {
		return fmt.Sprintf("Entry %d struck out", e.Strikes)
	}
	r := *e.Replacement
	r.Seq = e.Seq
	about, found := v.What(r)
	if found == "" {
		found = about
	}
	return fmt.Sprintf("Entry %d struck out, replaced by: %s", e.Strikes, found)
}

// Answer is the value of an entry in a few words.
func (v RunView) Answer(e commissioning.Entry) string {
	switch {
	case e.Outcome == "not_applicable":
		return "does not apply"
	case e.State != nil && *e.State:
		return "yes"
	case e.State != nil:
		return "no"
	case e.Value != "":
		return e.Value + " " + measure.Sign(e.Unit)
	case e.Kind == commissioning.KindLoad:
		return loadWords(e)
	case e.Kind == commissioning.KindDrain:
		return e.VolumeML + " mL into " + e.Container
	case e.Kind == commissioning.KindPhoto:
		return "photo"
	case e.Kind == commissioning.KindStart:
		return "started"
	case e.Choice != "":
		return e.Choice
	case v.isSample(e.Step):
		if e.Text == "" {
			return "read and recorded"
		}
		return e.Text
	case e.Text != "":
		return e.Text
	}
	return "done"
}

// ShortAnswer is the answer for the end of a row.
func (v RunView) ShortAnswer(e commissioning.Entry) string {
	switch e.Kind {
	case commissioning.KindLoad:
		return e.Fluid + ", " + e.LevelPercent + " %"
	case commissioning.KindDrain:
		return e.VolumeML + " mL"
	}
	return v.Answer(e)
}

func loadWords(e commissioning.Entry) string {
	words := []string{e.Fluid}
	if e.Lot != nil && strings.TrimSpace(*e.Lot) != "" {
		words = append(words, "lot "+*e.Lot)
	} else {
		words = append(words, "no lot")
	}
	if e.Expires != "" {
		words = append(words, "to "+e.Expires)
	}
	return strings.Join(append(words, e.LevelPercent+" %"), ", ")
}

func (v RunView) isSample(step string) bool {
	for _, st := range v.Exam.Steps {
		if st.Step.ID == step {
			return st.Step.Ask == commissioning.AskSample
		}
	}
	return false
}

// Mark is a sign beside an entry: its icon and its words.
type Mark struct{ Icon, Words string }

// Marks of an entry: struck, late, typed where others came by themselves,
// ruled on, time not proven.
func (v RunView) Marks(e commissioning.Entry) []Mark {
	var marks []Mark
	if by, ok := v.Exam.Struck[e.Seq]; ok {
		marks = append(marks, Mark{"void", fmt.Sprintf("struck out by entry %d, does not count", by)})
	}
	marks = append(marks, v.timeMarks(e)...)
	if e.Kind == commissioning.KindReading || e.Kind == commissioning.KindLoad {
		marks = append(marks, Mark{"pad", viaWords(e.Via)})
	}
	if ruling, ok := v.Exam.Rulings[e.Seq]; ok {
		marks = append(marks, Mark{"sign", fmt.Sprintf("%sed by %s", ruling.Decision, v.Name(ruling.By))})
	}
	for _, d := range v.Exam.Assessment.DecisionsNeeded {
		if d.Ref == e.Seq {
			marks = append(marks, Mark{"look", "waits for a supervisor's decision"})
			break
		}
	}
	return marks
}

// timeMarks say what is odd about when an entry was typed.
func (v RunView) timeMarks(e commissioning.Entry) []Mark {
	if e.Clock != nil && e.Clock.Proven != nil && !*e.Clock.Proven {
		return []Mark{{"late", "time not proven"}}
	}
	if e.CapturedAt == nil || e.CapturedAt.Sub(e.ObservedAt) < lateEnoughToShow {
		return nil
	}
	icon := "pencil"
	if v.Exam.Late[e.Seq] {
		icon = "late"
	}
	return []Mark{{icon, "typed " + minutesText(e.CapturedAt.Sub(e.ObservedAt).Truncate(time.Second)) + " later"}}
}

func viaWords(via string) string {
	switch via {
	case "logger":
		return "from the unit"
	case "import":
		return "imported"
	case "scan":
		return "scanned"
	}
	return "typed"
}
