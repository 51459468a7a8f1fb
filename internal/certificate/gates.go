package certificate

import (
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
		Title:   c.say("Gates"),
		Columns: []Column{{c.say("Gate"), 15}, {c.say("Verdict"), 9}, {c.say("Result"), 28}, {c.say("Limits"), 22}, {c.say("Decision rule"), 34}},
		Rows: [][]string{
			{c.say("Checklist"), c.verdict(a.Steps.Finding), c.stepsResult(), c.say("every step answered, in order"), c.say("a step out of order, or a value out of tolerance, needs a supervisor's ruling")},
			{c.say("Fluids and waste"), c.verdict(a.Fluids.Finding), c.fluidsResult(), c.wasteLimits(), c.say("code as the unit is built for, lot given, not expired on the day, level and waste inside their limits")},
			{c.say("Faults"), c.verdict(a.Faults.Finding), c.faultsResult(), c.faultLimits(), c.say("each one cleared; more than the procedure expects needs a supervisor's ruling")},
			{c.quantity(c.proc.Gates.Viscosity.Quantity).Label, c.verdict(a.Viscosity.Finding), c.viscosityResult(), c.viscosityLimits(), c.decisionRule()},
			{c.say("Hold"), c.verdict(a.Hold.Finding), c.holdResult(), c.holdLimits(), c.say("time counts only where it was observed; a gap, fault, stop or reading out of tolerance starts it again")},
		},
		Note: c.readingsNote(),
	}
}

// verdict of a gate; on a certificate every one passes.
func (c *composer) verdict(f rules.Finding) string {
	if f.Verdict == rules.Pass {
		return c.say("pass")
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
	return c.many(len(c.Exam.Steps), "%[2]d of %[1]d step answered", "%[2]d of %[1]d steps answered", answered)
}

func (c *composer) fluidsResult() string {
	wrong := 0
	for _, l := range c.Exam.Loads {
		if len(l.Problems) > 0 {
			wrong++
		}
	}
	n := len(c.Exam.Loads)
	if wrong == 0 {
		return c.many(n, "%d container loaded, each as it should be", "%d containers loaded, each as it should be")
	}
	return c.many(n, "%d container loaded, %d not as it should be", "%d containers loaded, %d not as it should be", wrong)
}

func (c *composer) wasteLimits() string {
	var out []string
	for _, w := range c.Exam.Containers {
		out = append(out, c.say("%s: at most %s of %s mL", w.Name, c.number(w.LimitML), c.number(w.CapacityML)))
	}
	if len(out) == 0 {
		return c.say("no waste container in this procedure")
	}
	return strings.Join(out, "; ")
}

func (c *composer) faultsResult() string {
	if len(c.Exam.Faults) == 0 {
		return c.say("no fault")
	}
	open := 0
	for _, f := range c.Exam.Faults {
		if f.ClearedBy == nil {
			open++
		}
	}
	n := len(c.Exam.Faults)
	if open == 0 {
		return c.many(n, "%d fault, cleared", "%d faults, all cleared")
	}
	return c.many(n, "%d fault, %d open", "%d faults, %d open", open)
}

func (c *composer) faultLimits() string {
	var out []string
	for _, f := range c.proc.Faults.Expected {
		out = append(out, c.say("%s at most %d", commissioning.FaultName(f.Kind), f.AtMost))
	}
	return strings.Join(append(out, c.say("any other 0")), ", ")
}

func (c *composer) viscosityResult() string {
	v := c.Exam.Assessment.Viscosity
	q := c.quantity(c.proc.Gates.Viscosity.Quantity)
	text := c.withUnit(v.Value, q.Unit)
	if v.DeviationPercent != "" {
		sign := ""
		if !strings.HasPrefix(v.DeviationPercent, "-") {
			sign = "+"
		}
		text = joined(", ", text, c.say("%s%s %% of target", sign, c.number(strings.Replace(v.DeviationPercent, "-", "−", 1))))
	}
	text = joined("; ", text, c.say("%d of %d checks", v.Checks, v.Required))
	if p := v.ConformanceProbability; p != nil {
		text = joined("; ", text, c.say("probability that the true value conforms %s", commissioning.ProbabilityInWords(*p)))
	}
	return text
}

func (c *composer) viscosityLimits() string {
	v := c.Exam.Assessment.Viscosity
	q := c.quantity(c.proc.Gates.Viscosity.Quantity)
	text := joined("", c.number(v.Lower), c.number(v.Upper))
	if v.Lower != "" && v.Upper != "" {
		text = c.say("%s to %s", c.number(v.Lower), c.number(v.Upper))
	}
	if v.Target != "" {
		text = joined(", ", text, c.say("target %s", c.number(v.Target)))
	}
	return joined("; ", joined(" ", text, measure.Sign(q.Unit)), c.tolerance(q), c.uncertainty(q))
}

func (c *composer) tolerance(q commissioning.Quantity) string {
	t := q.Tolerance
	switch {
	case t == nil:
		return ""
	case t.Percent != "":
		return c.say("tolerance %s %%", c.number(t.Percent))
	case t.Absolute != "":
		return c.say("tolerance %s", c.withUnit(t.Absolute, q.Unit))
	}
	return c.say("fixed limits")
}

func (c *composer) uncertainty(q commissioning.Quantity) string {
	if q.Uncertainty == nil {
		return ""
	}
	return q.Uncertainty.InWords(measure.Sign(q.Unit)).In(c.lang)
}

// decisionRule says in words how a value is accepted.
func (c *composer) decisionRule() string {
	g := c.proc.Gates.Viscosity
	q := c.quantity(g.Quantity)
	rule := q.DecisionInWords()
	if d := g.SpacingAtLeast.D; d > 0 {
		return c.say("the last %d checks in a row, at least %s apart; %s", g.Checks, words.Lasting(d), rule)
	}
	return c.say("the last %d checks in a row; %s", g.Checks, rule)
}

func (c *composer) holdResult() string {
	h := c.Exam.Assessment.Hold
	if h.From == nil || h.To == nil {
		return c.say("not held")
	}
	return c.say("held %s, %s to %s", words.Lasting(h.To.Sub(*h.From)), c.clock(*h.From), c.clock(*h.To))
}

func (c *composer) holdLimits() string {
	var gaps []string
	for _, key := range c.proc.Gates.Hold.Conditions {
		if q := c.quantity(key); q.MaxGap.D > 0 {
			gaps = append(gaps, c.say("%s at most %s apart", c.lower(q.Label), words.Lasting(q.MaxGap.D)))
		}
	}
	return c.say("%s without a break; %s", words.Lasting(c.Exam.Assessment.Hold.Required), strings.Join(gaps, ", "))
}

// hold states the soak: from, to, length, checks, largest gap.
func (c *composer) hold() []Fact {
	h := c.Exam.Assessment.Hold
	if h.From == nil || h.To == nil {
		return nil
	}
	facts := []Fact{
		{c.say("Held from"), c.full(*h.From)},
		{c.say("to"), c.full(*h.To)},
		{c.say("length"), c.say("%s (%s required)", words.Lasting(h.To.Sub(*h.From)), words.Lasting(h.Required))},
	}
	for _, key := range c.proc.Gates.Hold.Conditions {
		n, gap := c.checks(key, *h.From, *h.To)
		facts = append(facts, Fact{c.quantity(key).Label, c.many(n, "%d check, largest gap %s", "%d checks, largest gap %s", words.Lasting(gap))})
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
			who = c.say("%s, typed", who)
		}
		if by[who] == 0 {
			order = append(order, who)
		}
		by[who]++
	}
	var parts []string
	for _, who := range order {
		parts = append(parts, c.say("%d by %s", by[who], who))
	}
	note := c.say("Readings: %s.", c.cut(c.orNone(strings.Join(parts, "; ")), 240))
	if len(c.Exam.Instruments) == 0 {
		note += " " + c.say("Instruments: the record names none, so no calibration date is stated.")
	}
	return note
}
