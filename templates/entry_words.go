package templates

import (
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// What says an entry in two parts: what it is about, and what was found.
func (v RunView) What(e commissioning.Entry) (about, found words.Text) {
	switch e.Kind {
	case commissioning.KindStep:
		return words.Plain(v.StepText(e.Step)), v.Answer(e)
	case commissioning.KindReading:
		return words.Plain(v.Label(e.Quantity)), v.Answer(e)
	case commissioning.KindStart:
		return words.Say("Jet started"), words.Text{}
	case commissioning.KindStop:
		return words.Say("Jet stopped on purpose"), words.Text{}
	case commissioning.KindFault:
		return words.Say("%s fault", faultName(e.Fault)), words.Text{}
	case commissioning.KindFaultCleared:
		return words.Say("%s fault cleared", faultName(v.Entry(e.Ref).Fault)), words.Plain(e.How)
	case commissioning.KindLoad:
		return words.Say("%s container put in", parts.PositionName(e.Position)), v.Answer(e)
	case commissioning.KindDrain:
		return words.Plain(v.StepText(e.Step)), v.Answer(e)
	case commissioning.KindEmpty:
		return words.Say("Waste container “%s” emptied", e.Container), words.Plain(e.Route)
	case commissioning.KindDisposition:
		if e.Decision == commissioning.Reject {
			return words.Say("Ruling on entry %d: rejected", e.Ref), words.Plain(e.Reason)
		}
		return words.Say("Ruling on entry %d: accepted", e.Ref), words.Plain(e.Reason)
	case commissioning.KindCorrection:
		return v.correctionWords(e), words.Plain(e.Reason)
	case commissioning.KindNote:
		return words.Say("Note"), words.Plain(e.Text)
	case commissioning.KindPhoto:
		if e.Step != "" {
			return words.Plain(v.StepText(e.Step)), words.Say("photo")
		}
		return words.Say("Photo"), words.Text{}
	}
	return words.Plain(string(e.Kind)), words.Text{}
}

func (v RunView) correctionWords(e commissioning.Entry) words.Text {
	if e.Replacement == nil {
		return words.Say("Entry %d struck out", e.Strikes)
	}
	r := *e.Replacement
	r.Seq = e.Seq
	about, found := v.What(r)
	if found.Empty() {
		found = about
	}
	return words.Say("Entry %d struck out, replaced by: %s", e.Strikes, found)
}

// Answer is the value of an entry in a few words.
func (v RunView) Answer(e commissioning.Entry) words.Text {
	switch {
	case e.Outcome == "not_applicable":
		return words.Say("does not apply")
	case e.State != nil && *e.State:
		return words.Say("yes")
	case e.State != nil:
		return words.Say("no")
	case e.Value != "":
		return withUnit(e.Value, e.Unit)
	case e.Kind == commissioning.KindLoad:
		return loadWords(e)
	case e.Kind == commissioning.KindDrain:
		return words.Say("%s into %s", withUnit(e.VolumeML, "mL"), e.Container)
	case e.Kind == commissioning.KindPhoto:
		return words.Say("photo")
	case e.Kind == commissioning.KindStart:
		return words.Say("started")
	case e.Choice != "":
		return words.Plain(e.Choice)
	case v.isSample(e.Step):
		if e.Text == "" {
			return words.Say("read and recorded")
		}
		return words.Plain(e.Text)
	case e.Text != "":
		return words.Plain(e.Text)
	}
	return words.Say("done")
}

// ShortAnswer is the answer for the end of a row.
func (v RunView) ShortAnswer(e commissioning.Entry) words.Text {
	switch e.Kind {
	case commissioning.KindLoad:
		return words.Say("%s, %s %%", e.Fluid, words.Number(e.LevelPercent))
	case commissioning.KindDrain:
		return withUnit(e.VolumeML, "mL")
	}
	return v.Answer(e)
}

func loadWords(e commissioning.Entry) words.Text {
	lot, expires := words.Say("no lot"), words.Text{}
	if e.Lot != nil && strings.TrimSpace(*e.Lot) != "" {
		lot = words.Say("lot %s", *e.Lot)
	}
	if e.Expires != "" {
		expires = words.Say("to %s", e.Expires)
	}
	return words.Join(", ", words.Plain(e.Fluid), lot, expires, percentText(e.LevelPercent))
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
type Mark struct {
	Icon  string
	Words words.Text
}

// Marks of an entry: struck, late, typed where others came by themselves,
// ruled on, time not proven.
func (v RunView) Marks(e commissioning.Entry) []Mark {
	var marks []Mark
	if by, ok := v.Exam.Struck[e.Seq]; ok {
		marks = append(marks, Mark{"void", words.Say("struck out by entry %d, does not count", by)})
	}
	marks = append(marks, v.timeMarks(e)...)
	if e.Kind == commissioning.KindReading || e.Kind == commissioning.KindLoad {
		marks = append(marks, Mark{"pad", viaWords(e.Via)})
	}
	if ruling, ok := v.Exam.Rulings[e.Seq]; ok {
		marks = append(marks, Mark{"sign", ruledBy(ruling, v.Name(ruling.By))})
	}
	for _, d := range v.Exam.Assessment.DecisionsNeeded {
		if d.Ref == e.Seq {
			marks = append(marks, Mark{"look", words.Say("waits for a supervisor's decision")})
			break
		}
	}
	return marks
}

// timeMarks say what is odd about when an entry was typed.
func (v RunView) timeMarks(e commissioning.Entry) []Mark {
	if e.Clock != nil && e.Clock.Proven != nil && !*e.Clock.Proven {
		return []Mark{{"late", words.Say("time not proven")}}
	}
	if e.CapturedAt == nil || e.CapturedAt.Sub(e.ObservedAt) < lateEnoughToShow {
		return nil
	}
	icon := "pencil"
	if v.Exam.Late[e.Seq] {
		icon = "late"
	}
	return []Mark{{icon, words.Say("typed %s later", minutesText(e.CapturedAt.Sub(e.ObservedAt).Truncate(time.Second)))}}
}

func viaWords(via string) words.Text {
	switch via {
	case "logger":
		return words.Say("from the unit")
	case "import":
		return words.Say("imported")
	case "scan":
		return words.Say("scanned")
	}
	return words.Say("typed")
}

func ruledBy(ruling commissioning.Entry, by string) words.Text {
	if ruling.Decision == commissioning.Reject {
		return words.Say("rejected by %s", by)
	}
	return words.Say("accepted by %s", by)
}
