package rules

import (
	"sort"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// gauge holds values of one quantity against its limits.
type gauge struct {
	r     *record
	q     commissioning.Quantity
	curve *measure.Curve
	fixed *measure.Decimal // the target, when it does not move
	by    *gauge           // the quantity that the curve goes by
	temps []*commissioning.Entry
	still *measure.Limits // the limits, when they do not move
}

// measured is a value as it was judged.
type measured struct {
	value  measure.Decimal // in the quantity's own unit
	target *measure.Decimal
	limits *measure.Limits
	good   bool
	code   string // why it is not good
	why    words.Text
}

// gauges makes one gauge a quantity, in the order of the procedure.
func (r *record) gauges() []*gauge {
	all := make([]*gauge, len(r.book.Procedure.Quantities))
	byKey := map[string]*gauge{}
	for i, q := range r.book.Procedure.Quantities {
		all[i] = &gauge{r: r, q: q}
		byKey[q.Key] = all[i]
	}
	for _, g := range all {
		switch t := g.q.Target; {
		case t == nil:
		case t.By == "":
			fixed := measure.Must(t.Value)
			g.fixed = &fixed
		default:
			points := make([]measure.Point, len(t.Curve))
			for i, p := range t.Curve {
				points[i] = measure.Point{At: measure.Must(p.At), Value: measure.Must(p.Value)}
			}
			curve := measure.NewCurve(points)
			g.curve, g.by = &curve, byKey[t.By]
		}
	}
	for _, g := range all {
		if g.curve == nil && g.q.Tolerance != nil {
			g.still = g.limits(g.fixed)
		}
	}
	for _, e := range r.byTime {
		if e.Kind != commissioning.KindReading || r.late[e.Seq] && !r.accepted(e.Seq) {
			continue
		}
		for _, g := range all {
			if g.by != nil && g.by.q.Key == e.Quantity {
				g.temps = append(g.temps, e)
			}
		}
	}
	return all
}

// judge holds the value of a reading or of a step answer against the limits.
func (g *gauge) judge(e *commissioning.Entry) measured {
	if g.q.State != nil {
		return g.judgeState(e)
	}
	value, _ := measure.Convert(measure.Must(e.Value), e.Unit, g.q.Unit)
	m := measured{value: value, good: true}
	if g.q.Tolerance == nil {
		return m
	}
	if m.target, m.code, m.why = g.target(e.ObservedAt); m.code != "" {
		m.good = false
	}
	if m.limits = g.limits(m.target); m.limits == nil || !m.good {
		return m
	}
	g.hold(e, &m)
	return m
}

func (g *gauge) judgeState(e *commissioning.Entry) measured {
	m := measured{good: *e.State == *g.q.State}
	if !m.good {
		m.code, m.why = "not_ready", words.Say("%s was not as required at %s.", g.q.Label, g.r.clock(e.ObservedAt))
	}
	return m
}

// hold decides by 5.2 and says on which side a value lies outside.
func (g *gauge) hold(e *commissioning.Entry, m *measured) {
	allowed := *m.limits
	if g.q.Decision == commissioning.Guarded {
		allowed = m.limits.Guarded(g.guard(m.value))
	}
	if m.good = allowed.Hold(m.value); m.good {
		return
	}
	value, when := words.Number(e.Value), g.r.clock(e.ObservedAt)
	switch {
	case m.value.Cmp(m.limits.Upper) > 0:
		m.code, m.why = "above_limit", words.Say("%s %s %s at %s is above the upper limit %s.",
			g.q.Label, value, e.Unit, when, g.withUnit(m.limits.Upper, e))
	case m.value.Cmp(m.limits.Lower) < 0:
		m.code, m.why = "below_limit", words.Say("%s %s %s at %s is below the lower limit %s.",
			g.q.Label, value, e.Unit, when, g.withUnit(m.limits.Lower, e))
	default:
		m.code, m.why = "inside_guard_band", words.Say("%s %s %s at %s is nearer to a limit than the instrument's uncertainty allows; accepted from %s to %s %s.",
			g.q.Label, value, e.Unit, when, shown(allowed.Lower), shown(allowed.Upper), g.q.Unit)
	}
}

// withUnit names the unit of a limit where the reading came in another one.
func (g *gauge) withUnit(limit measure.Decimal, e *commissioning.Entry) words.Text {
	if e.Unit == g.q.Unit {
		return words.Say("%s", shown(limit))
	}
	return words.Say("%s %s", shown(limit), g.q.Unit)
}

func shown(d measure.Decimal) words.Number { return words.Number(d.Shown()) }

// target finds the target at an instant; a curve needs a temperature.
func (g *gauge) target(at time.Time) (target *measure.Decimal, code string, why words.Text) {
	if g.curve == nil {
		return g.fixed, "", words.Text{}
	}
	after := sort.Search(len(g.temps), func(i int) bool { return g.temps[i].ObservedAt.After(at) })
	when := g.r.clock(at)
	if after == 0 || at.Sub(g.temps[after-1].ObservedAt) > g.by.q.MaxGap.D {
		return nil, "no_temperature", words.Say("%s at %s has no target: no %s was read in the %s before it.",
			g.q.Label, when, g.by.q.Label, limit(g.by.q.MaxGap))
	}
	e := g.temps[after-1]
	celsius, _ := measure.Convert(measure.Must(e.Value), e.Unit, "degC")
	found, ok := g.curve.At(celsius)
	if !ok {
		curve := g.q.Target.Curve
		return nil, "outside_curve", words.Say("%s at %s has no target: %s %s %s lies outside the curve, %s to %s degC.",
			g.q.Label, when, g.by.q.Label, words.Number(e.Value), e.Unit, words.Number(curve[0].At), words.Number(curve[len(curve)-1].At))
	}
	return &found, "", words.Text{}
}

// limits finds the limits about a target; nil when they need one that is missing.
func (g *gauge) limits(target *measure.Decimal) *measure.Limits {
	if g.still != nil {
		return g.still
	}
	var l measure.Limits
	switch t := g.q.Tolerance; {
	case t.Lower != "":
		l = measure.Within(measure.Must(t.Lower), measure.Must(t.Upper))
	case target == nil:
		return nil
	case t.Percent != "":
		l = measure.WithinPercent(*target, measure.Must(t.Percent))
	default:
		l = measure.WithinAbsolute(*target, measure.Must(t.Absolute))
	}
	return &l
}

// expanded is U, the expanded uncertainty at a value.
func (g *gauge) expanded(value measure.Decimal) measure.Decimal {
	u := g.q.Uncertainty
	if u.Absolute != "" {
		return measure.Must(u.Absolute)
	}
	return measure.PercentOf(value, measure.Must(u.Percent))
}

// guard is the guard band at a value: guard_factor × U.
func (g *gauge) guard(value measure.Decimal) measure.Decimal {
	if g.q.GuardFactor == "" {
		return g.expanded(value)
	}
	return g.expanded(value).Times(measure.Must(g.q.GuardFactor))
}

// coverage is k, 2 unless given.
func (g *gauge) coverage() measure.Decimal {
	if g.q.Uncertainty.K == "" {
		return measure.Whole(2)
	}
	return measure.Must(g.q.Uncertainty.K)
}

// conformance is the probability that the true value lies inside the limits,
// nil without an uncertainty or without limits.
func (g *gauge) conformance(m measured) *float64 {
	if g.q.Uncertainty == nil || m.limits == nil {
		return nil
	}
	p := measure.Significant(measure.Conformance(*m.limits, m.value, g.expanded(m.value).Over(g.coverage())))
	return &p
}
