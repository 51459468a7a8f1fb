package certificate

import (
	"slices"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
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

func (c *composer) shortened(t Table, limit int) Table {
	if n := len(t.Rows) - limit; n > 0 {
		t.Rows = t.Rows[:limit:limit]
		t.Note = joined(" ", c.say("And %d more, each in the attached %s.", n, LogbookName), t.Note)
	}
	return t
}

// sectionsTable condenses the checklist: one row a section, with what was
// measured, put in and chosen. Single steps stand in the attached logbook.
func (c *composer) sectionsTable() Table {
	t := Table{Title: c.say("Checklist"), Columns: []Column{{c.say("Section"), 16}, {c.say("Result"), 52}, {c.say("By"), 20}, {c.say("Recorded"), 12}}}
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
	return c.shortened(t, mostSections)
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
				parts = append(parts, c.say("%s passed", commissioning.GateName(st.Step.Gate)))
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
	lead := c.say("%d of %d", answered, len(states))
	if confirmed > 0 && confirmed < answered {
		lead = c.say("%d of %d, %d confirmed", answered, len(states), confirmed)
	}
	if len(names) == 0 {
		names = append(names, c.say("judged by the rules"))
	}
	result = joined("; ", lead, c.cut(strings.Join(parts, ", "), 260))
	if !last.IsZero() {
		at = c.clock(last)
	}
	return result, c.cut(strings.Join(names, ", "), 90), at
}

// stepResult says what a step found; "" for one that was only confirmed.
func (c *composer) stepResult(st rules.StepState) string {
	e := st.Answers[len(st.Answers)-1]
	if e.Outcome == "not_applicable" {
		return c.say("1 not applicable")
	}
	switch st.Step.Ask {
	case commissioning.AskValue:
		return c.lower(c.quantity(st.Step.Quantity).Label) + " " + c.withUnit(e.Value, e.Unit)
	case commissioning.AskText:
		return c.say("“%s”", c.cut(e.Text, 40))
	case commissioning.AskChoice:
		return c.say("“%s”", c.cut(e.Choice, 40))
	case commissioning.AskDrain:
		return c.say("%s mL drained", c.number(e.VolumeML))
	case commissioning.AskLoad:
		return c.say("%s in the %s place, lot %s", e.Fluid, place(e.Position), c.cut(c.lot(e), 24))
	case commissioning.AskPhoto:
		return c.many(len(st.Answers), "%d photo", "%d photos")
	case commissioning.AskStart:
		return c.say("started")
	case commissioning.AskSample:
		if text := sampleText(st); text != "" {
			return c.say("read “%s”", c.cut(text, 60))
		}
	}
	return ""
}

func (c *composer) faultsTable() Table {
	t := Table{
		Title:   c.say("Faults and how they were cleared"),
		Columns: []Column{{c.say("Fault"), 16}, {c.say("Raised"), 12}, {c.say("Cleared"), 12}, {c.say("How"), 42}, {c.say("Expected"), 18}},
	}
	for _, f := range c.Exam.Faults {
		row := []string{commissioning.FaultName(f.Entry.Fault).In(c.lang), c.clock(f.Entry.ObservedAt), c.say("open"), "", c.say("by the procedure")}
		if f.Entry.Note != "" {
			row[0] += " (" + c.cut(f.Entry.Note, 60) + ")"
		}
		if f.ClearedBy != nil {
			row[2], row[3] = c.clock(f.ClearedBy.ObservedAt), c.cut(f.ClearedBy.How, 140)
		}
		if !f.Expected {
			row[4] = c.say("no, see above")
		}
		t.Rows = append(t.Rows, row)
	}
	if len(t.Rows) == 0 {
		t.Note = c.say("No fault was reported.")
	}
	return c.shortened(t, mostRows)
}

func (c *composer) loadsTable() Table {
	t := Table{Title: c.say("Fluids"), Columns: []Column{
		{c.say("Fluid"), 13}, {c.say("Place"), 12}, {c.say("Lot"), 20}, {c.say("Expires"), 12}, {c.say("Level"), 9}, {c.say("By"), 20}, {c.say("Put in"), 14},
	}}
	for _, l := range c.Exam.Loads {
		e := l.Entry
		fluid := e.Fluid
		if len(l.Problems) > 0 {
			fluid = c.say("%s (ruled on)", fluid)
		}
		t.Rows = append(t.Rows, []string{fluid, place(e.Position).In(c.lang), c.cut(c.lot(e), 40), e.Expires, c.number(e.LevelPercent) + " %", c.name(e.By), c.clock(e.ObservedAt)})
	}
	return c.shortened(t, mostRows)
}

func (c *composer) wasteTable() Table {
	t := Table{Title: c.say("Waste"), Columns: []Column{
		{c.say("Container"), 14}, {c.say("Drained in this run"), 28}, {c.say("In it at the end"), 28}, {c.say("Emptied, route"), 30},
	}}
	for _, w := range c.Exam.Containers {
		drained, n := c.drained(w.Name)
		t.Rows = append(t.Rows, []string{
			w.Name, c.many(n, "%[2]s mL in %[1]d drain", "%[2]s mL in %[1]d drains", drained),
			c.say("%s of %s mL, %s %%", c.number(w.VolumeML), c.number(w.CapacityML), w.PercentFull), c.emptied(w.Name),
		})
	}
	return c.shortened(t, mostRows)
}

// instrumentsTable lists what the run names to measure with; without one the
// note under the gates says so.
func (c *composer) instrumentsTable() Table {
	t := Table{
		Title: c.say("Instruments, as they stood when the run was opened"),
		Columns: []Column{
			{c.say("Code"), 9}, {c.say("Instrument"), 24}, {c.say("Serial"), 13}, {c.say("Measures"), 12}, {c.say("Calibration due"), 19}, {c.say("Expanded uncertainty"), 23},
		},
	}
	for _, i := range c.Exam.Instruments {
		due := i.Due
		if i.Overdue != nil {
			due = c.say("%s, overdue", due)
		}
		t.Rows = append(t.Rows, []string{c.cut(i.Code, 24), c.cut(i.Name, 60), c.cut(i.Serial, 24), i.QuantityName().In(c.lang), due, measure.Signs(i.UncertaintyInWords().In(c.lang))})
	}
	return c.shortened(t, mostInstruments)
}

func (c *composer) emptied(container string) string {
	var out []string
	for _, e := range c.Exam.Live {
		if e.Kind == commissioning.KindEmpty && e.Container == container {
			out = append(out, c.clock(e.ObservedAt)+" "+c.cut(e.Route, 60))
		}
	}
	if n := len(out) - 3; n > 0 {
		out = append(out[:3:3], c.say("and %d more", n))
	}
	return c.orNone(strings.Join(out, "; "))
}
