package certificate

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// Rows that are printed at most; a note counts the rest.
const (
	mostSections    = 16
	mostRows        = 10
	mostInstruments = 6
)

func (c *composer) tables() []Table {
	all := []Table{c.gatesTable(), c.sectionsTable(), c.faultsTable(), c.loadsTable(), c.wasteTable(), c.instrumentsTable()}
	return slices.DeleteFunc(all, func(t Table) bool { return len(t.Rows) == 0 && t.Note == "" })
}

func shortened(t Table, limit int) Table {
	if n := len(t.Rows) - limit; n > 0 {
		t.Rows = t.Rows[:limit:limit]
		t.Note = joined(" ", fmt.Sprintf("And %d more, each in the attached %s.", n, LogbookName), t.Note)
	}
	return t
}

// sectionsTable condenses the checklist: one row a section, with what was
// measured, put in and chosen. Single steps stand in the attached logbook.
func (c *composer) sectionsTable() Table {
	t := Table{Title: "Checklist", Columns: []Column{{"Section", 16}, {"Result", 52}, {"By", 20}, {"Recorded", 12}}}
	for i, s := range c.proc.Sections {
		var states []rules.StepState
		for _, st := range c.Exam.Steps {
			if st.Section == i {
				states = append(states, st)
			}
		}
		if len(states) > 0 {
			result, by, at := c.section(states)
			t.Rows = append(t.Rows, []string{s.Title, result, by, at})
		}
	}
	return shortened(t, mostSections)
}

func (c *composer) section(states []rules.StepState) (result, by, at string) {
	answered, confirmed := 0, 0
	var parts, names []string
	var last time.Time
	for _, st := range states {
		if st.Answered {
			answered++
		}
		if len(st.Answers) == 0 {
			if st.Step.Ask == commissioning.AskGate && st.Answered {
				parts = append(parts, st.Step.Gate+" passed")
			}
			continue
		}
		if text := c.stepResult(st); text != "" {
			parts = append(parts, text)
		} else {
			confirmed++
		}
		for _, e := range st.Answers {
			if n := c.name(e.By); !slices.Contains(names, n) {
				names = append(names, n)
			}
			if e.ObservedAt.After(last) {
				last = e.ObservedAt
			}
		}
	}
	lead := fmt.Sprintf("%d of %d", answered, len(states))
	if confirmed > 0 && confirmed < answered {
		lead += fmt.Sprintf(", %d confirmed", confirmed)
	}
	if len(names) == 0 {
		names = append(names, "judged by the rules")
	}
	result = joined("; ", lead, cut(strings.Join(parts, ", "), 260))
	if !last.IsZero() {
		at = c.clock(last)
	}
	return result, cut(strings.Join(names, ", "), 90), at
}

// stepResult says what a step found; "" for one that was only confirmed.
func (c *composer) stepResult(st rules.StepState) string {
	e := st.Answers[len(st.Answers)-1]
	if e.Outcome == "not_applicable" {
		return "1 not applicable"
	}
	switch st.Step.Ask {
	case commissioning.AskValue:
		return strings.ToLower(c.quantity(st.Step.Quantity).Label) + " " + withUnit(e.Value, e.Unit)
	case commissioning.AskText:
		return "“" + cut(e.Text, 40) + "”"
	case commissioning.AskChoice:
		return "“" + cut(e.Choice, 40) + "”"
	case commissioning.AskDrain:
		return e.VolumeML + " mL drained"
	case commissioning.AskLoad:
		return fmt.Sprintf("%s in the %s place, lot %s", e.Fluid, e.Position.Word(), cut(lot(e), 24))
	case commissioning.AskPhoto:
		return words.Count(len(st.Answers), "photo")
	case commissioning.AskStart:
		return "started"
	case commissioning.AskSample:
		if text := sampleText(st); text != "" {
			return "read “" + cut(text, 60) + "”"
		}
	}
	return ""
}

func (c *composer) faultsTable() Table {
	t := Table{Title: "Faults and how they were cleared", Columns: []Column{{"Fault", 16}, {"Raised", 12}, {"Cleared", 12}, {"How", 42}, {"Expected", 18}}}
	for _, f := range c.Exam.Faults {
		row := []string{plain(f.Entry.Fault), c.clock(f.Entry.ObservedAt), "open", "", "by the procedure"}
		if f.Entry.Note != "" {
			row[0] += " (" + cut(f.Entry.Note, 60) + ")"
		}
		if f.ClearedBy != nil {
			row[2], row[3] = c.clock(f.ClearedBy.ObservedAt), cut(f.ClearedBy.How, 140)
		}
		if !f.Expected {
			row[4] = "no, see above"
		}
		t.Rows = append(t.Rows, row)
	}
	if len(t.Rows) == 0 {
		t.Note = "No fault was reported."
	}
	return shortened(t, mostRows)
}

func (c *composer) loadsTable() Table {
	t := Table{Title: "Fluids", Columns: []Column{{"Fluid", 13}, {"Place", 12}, {"Lot", 20}, {"Expires", 12}, {"Level", 9}, {"By", 20}, {"Put in", 14}}}
	for _, l := range c.Exam.Loads {
		e := l.Entry
		fluid := e.Fluid
		if len(l.Problems) > 0 {
			fluid += " (ruled on)"
		}
		t.Rows = append(t.Rows, []string{fluid, e.Position.Word(), cut(lot(e), 40), e.Expires, e.LevelPercent + " %", c.name(e.By), c.clock(e.ObservedAt)})
	}
	return shortened(t, mostRows)
}

func (c *composer) wasteTable() Table {
	t := Table{Title: "Waste", Columns: []Column{{"Container", 14}, {"Drained in this run", 28}, {"In it at the end", 28}, {"Emptied, route", 30}}}
	for _, w := range c.Exam.Containers {
		drained, n := c.drained(w.Name)
		t.Rows = append(t.Rows, []string{
			w.Name, fmt.Sprintf("%s mL in %s", drained, words.Count(n, "drain")),
			fmt.Sprintf("%s of %s mL, %s %%", w.VolumeML, w.CapacityML, w.PercentFull), c.emptied(w.Name),
		})
	}
	return shortened(t, mostRows)
}

// instrumentsTable lists what the run names to measure with; without one the
// note under the gates says so.
func (c *composer) instrumentsTable() Table {
	t := Table{
		Title:   "Instruments, as they stood when the run was opened",
		Columns: []Column{{"Code", 9}, {"Instrument", 24}, {"Serial", 13}, {"Measures", 12}, {"Calibration due", 19}, {"Expanded uncertainty", 23}},
	}
	for _, i := range c.Exam.Instruments {
		due := i.Due
		if i.Overdue != nil {
			due += ", overdue"
		}
		t.Rows = append(t.Rows, []string{cut(i.Code, 24), cut(i.Name, 60), cut(i.Serial, 24), string(i.Quantity), due, measure.Signs(i.UncertaintyInWords())})
	}
	return shortened(t, mostInstruments)
}

func (c *composer) emptied(container string) string {
	var out []string
	for _, e := range c.Exam.Live {
		if e.Kind == commissioning.KindEmpty && e.Container == container {
			out = append(out, c.clock(e.ObservedAt)+" "+cut(e.Route, 60))
		}
	}
	if n := len(out) - 3; n > 0 {
		out = append(out[:3:3], fmt.Sprintf("and %d more", n))
	}
	return orNone(strings.Join(out, "; "))
}
