package certificate

import (
	"fmt"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// gatesTable states each gate with its result, its limits and how it decides.
func (c *composer) gatesTable() Table {
	a := c.Exam.Assessment
	return Table{
		Title:   "Gates",
		Columns: []Column{{"Gate", 15}, {"Verdict", 9}, {"Result", 28}, {"Limits", 22}, {"Decision rule", 34}},
		Rows: [][]string{
			{"Checklist", verdict(a.Steps.Finding), c.stepsResult(), "every step answered, in order", "a step out of order, or a value out of tolerance, needs a supervisor's ruling"},
			{"Fluids and waste", verdict(a.Fluids.Finding), c.fluidsResult(), c.wasteLimits(), "code as the unit is built for, lot given, not expired on the day, level and waste inside their limits"},
			{"Faults", verdict(a.Faults.Finding), c.faultsResult(), c.faultLimits(), "each one cleared; more than the procedure expects needs a supervisor's ruling"},
			{c.quantity(c.proc.Gates.Viscosity.Quantity).Label, verdict(a.Viscosity.Finding), c.viscosityResult(), c.viscosityLimits(), c.decisionRule()},
			{"Hold", verdict(a.Hold.Finding), c.holdResult(), c.holdLimits(), "time counts only where it was observed; a gap, fault, stop or reading out of tolerance starts it again"},
		},
		Note: c.readingsNote(),
	}
}

func verdict(f rules.Finding) string {
	if f.Verdict == rules.Pass {
		return "pass"
	}
	return plain(string(f.Verdict))
}

func (c *composer) stepsResult() string {
	answered := 0
	for _, s := range c.Exam.Steps {
		if s.Answered {
			answered++
		}
	}
	return fmt.Sprintf("%d of %s answered", answered, words.Count(len(c.Exam.Steps), "step"))
}

func (c *composer) fluidsResult() string {
	wrong := 0
	for _, l := range c.Exam.Loads {
		if len(l.Problems) > 0 {
			wrong++
		}
	}
	text := words.Count(len(c.Exam.Loads), "container") + " loaded"
	if wrong == 0 {
		return text + ", each as it should be"
	}
	return text + fmt.Sprintf(", %d not as it should be", wrong)
}

func (c *composer) wasteLimits() string {
	var out []string
	for _, w := range c.Exam.Containers {
		out = append(out, fmt.Sprintf("%s: at most %s of %s mL", w.Name, w.LimitML, w.CapacityML))
	}
	if len(out) == 0 {
		return "no waste container in this procedure"
	}
	return strings.Join(out, "; ")
}

func (c *composer) faultsResult() string {
	if len(c.Exam.Faults) == 0 {
		return "no fault"
	}
	open := 0
	for _, f := range c.Exam.Faults {
		if f.ClearedBy == nil {
			open++
		}
	}
	if open == 0 {
		return words.Count(len(c.Exam.Faults), "fault") + ", all cleared"
	}
	return words.Count(len(c.Exam.Faults), "fault") + fmt.Sprintf(", %d open", open)
}

func (c *composer) faultLimits() string {
	var out []string
	for _, f := range c.proc.Faults.Expected {
		out = append(out, fmt.Sprintf("%s at most %d", plain(f.Kind), f.AtMost))
	}
	return joined(", ", strings.Join(out, ", "), "any other 0")
}

func (c *composer) viscosityResult() string {
	v := c.Exam.Assessment.Viscosity
	q := c.quantity(c.proc.Gates.Viscosity.Quantity)
	text := withUnit(v.Value, q.Unit)
	if v.DeviationPercent != "" {
		sign := ""
		if !strings.HasPrefix(v.DeviationPercent, "-") {
			sign = "+"
		}
		text += fmt.Sprintf(", %s%s %% of target", sign, strings.Replace(v.DeviationPercent, "-", "−", 1))
	}
	text += fmt.Sprintf("; %d of %d checks", v.Checks, v.Required)
	if p := v.ConformanceProbability; p != nil {
		text += "; probability that the true value conforms " + measure.ProbabilityInWords(*p)
	}
	return text
}

func (c *composer) viscosityLimits() string {
	v := c.Exam.Assessment.Viscosity
	q := c.quantity(c.proc.Gates.Viscosity.Quantity)
	text := joined(" to ", v.Lower, v.Upper)
	if v.Target != "" {
		text = joined(", ", text, "target "+v.Target)
	}
	return joined("; ", withUnit(text, q.Unit), tolerance(q), uncertainty(q))
}

func tolerance(q commissioning.Quantity) string {
	t := q.Tolerance
	switch {
	case t == nil:
		return ""
	case t.Percent != "":
		return "tolerance " + t.Percent + " %"
	case t.Absolute != "":
		return "tolerance " + withUnit(t.Absolute, q.Unit)
	}
	return "fixed limits"
}

func uncertainty(q commissioning.Quantity) string {
	if q.Uncertainty == nil {
		return ""
	}
	return q.Uncertainty.InWords(measure.Sign(q.Unit))
}

// decisionRule says in words how a value is accepted.
func (c *composer) decisionRule() string {
	g := c.proc.Gates.Viscosity
	q := c.quantity(g.Quantity)
	rule := q.DecisionInWords()
	if d := g.SpacingAtLeast.D; d > 0 {
		return fmt.Sprintf("the last %d checks in a row, at least %s apart; %s", g.Checks, span(d), rule)
	}
	return fmt.Sprintf("the last %d checks in a row; %s", g.Checks, rule)
}

func (c *composer) holdResult() string {
	h := c.Exam.Assessment.Hold
	if h.From == nil || h.To == nil {
		return "not held"
	}
	return fmt.Sprintf("held %s, %s to %s", span(h.To.Sub(*h.From)), c.clock(*h.From), c.clock(*h.To))
}

func (c *composer) holdLimits() string {
	var gaps []string
	for _, key := range c.proc.Gates.Hold.Conditions {
		if q := c.quantity(key); q.MaxGap.D > 0 {
			gaps = append(gaps, fmt.Sprintf("%s at most %s apart", strings.ToLower(q.Label), span(q.MaxGap.D)))
		}
	}
	return fmt.Sprintf("%s without a break; %s", span(c.Exam.Assessment.Hold.Required), strings.Join(gaps, ", "))
}

// hold states the soak: from, to, length, checks, largest gap.
func (c *composer) hold() []Fact {
	h := c.Exam.Assessment.Hold
	if h.From == nil || h.To == nil {
		return nil
	}
	facts := []Fact{
		{"Held from", c.full(*h.From)},
		{"to", c.full(*h.To)},
		{"length", fmt.Sprintf("%s (%s required)", span(h.To.Sub(*h.From)), span(h.Required))},
	}
	for _, key := range c.proc.Gates.Hold.Conditions {
		n, gap := c.checks(key, *h.From, *h.To)
		facts = append(facts, Fact{c.quantity(key).Label, fmt.Sprintf("%s, largest gap %s", words.Count(n, "check"), span(gap))})
	}
	return facts
}

// checks counts the good checks of one condition inside the hold and finds the
// longest time between two of them.
func (c *composer) checks(key string, from, to time.Time) (n int, gap time.Duration) {
	var last time.Time
	for _, s := range c.Exam.Series {
		if s.Quantity.Key != key {
			continue
		}
		for _, p := range s.Points {
			at := p.Entry.ObservedAt
			if !p.Good || p.Late || at.Before(from) || at.After(to) {
				continue
			}
			if n > 0 {
				gap = max(gap, at.Sub(last))
			}
			n, last = n+1, at
		}
	}
	return n, gap
}

// readingsNote says what the readings were taken with, as far as it was given.
func (c *composer) readingsNote() string {
	by := map[string]int{}
	var order []string
	for _, e := range c.Exam.Live {
		if e.Kind != commissioning.KindReading {
			continue
		}
		who := c.name(e.By)
		if e.Via == "typed" {
			who += ", typed"
		}
		if by[who] == 0 {
			order = append(order, who)
		}
		by[who]++
	}
	var parts []string
	for _, who := range order {
		parts = append(parts, fmt.Sprintf("%d by %s", by[who], who))
	}
	note := "Readings: " + cut(orNone(strings.Join(parts, "; ")), 240) + "."
	if len(c.Exam.Instruments) == 0 {
		note += " Instruments: the record names none, so no calibration date is stated."
	}
	return note
}
