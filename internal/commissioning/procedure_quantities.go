package commissioning

import (
	"time"

	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// How a value is held against its limits.
const (
	Simple  = "simple"
	Guarded = "guarded"
)

// quantities reads all quantities, then what a curve says of another one.
func (c *procedureReader) quantities(o object) {
	before := len(c.kept)
	items := o.list(o.need("quantities", words.Say("a list of quantities")))
	c.p.Quantities = make([]Quantity, len(items))
	keys := map[string]bool{}
	for i, n := range items {
		c.apart(func() { c.p.Quantities[i] = c.distinct(n, keys) })
	}
	c.unknown = c.err != nil || len(c.kept) > before
	for i, n := range items {
		if t := c.p.Quantities[i].Target; t != nil && t.By != "" && !c.unknown {
			c.apart(func() { c.curveQuantity(o, n, c.p.Quantities[i].Key) })
		}
	}
}

// distinct reads a quantity whose key no other one has.
func (c *procedureReader) distinct(n *node, keys map[string]bool) Quantity {
	q := c.readQuantity(n)
	if c.err == nil && keys[q.Key] {
		c.refuse(n.field("key"), "expected each key only once, found %s again", quote(q.Key))
	}
	keys[q.Key] = true
	return q
}

// curveQuantity checks the quantity that a curve goes by.
func (c *procedureReader) curveQuantity(o object, n *node, own string) {
	by := n.field("target").field("by")
	q := c.quantity(o, by)
	if q == nil {
		return
	}
	kind, _ := measure.KindOf(q.Unit)
	switch {
	case kind != measure.Temperature || q.Key == own:
		o.refuse(by, "expected another quantity that is a temperature")
	case q.MaxGap.D == 0:
		o.refuse(by, "expected a quantity with max_gap, %s has none", quote(q.Key))
	}
}

func (c *procedureReader) readQuantity(n *node) Quantity {
	o := c.object(n)
	q := Quantity{
		Key:     o.label("key"),
		Label:   o.label("label"),
		Cadence: o.span(o.maybe("cadence"), time.Nanosecond),
		MaxGap:  o.span(o.maybe("max_gap"), time.Nanosecond),
	}
	if c.err == nil && q.MaxGap.D != 0 && q.MaxGap.D < q.Cadence.D {
		o.refuse(n.field("max_gap"), "expected a duration not shorter than cadence %s, found %s", q.Cadence.Text, q.MaxGap.Text)
	}
	if q.State = o.flag("state"); q.State == nil && !o.has("unit") && c.err == nil {
		o.refuse(n, "expected a unit or a state")
	}
	if q.State == nil {
		c.readNumber(o, &q)
	}
	o.done()
	return q
}

// readNumber reads what only a quantity with a unit has.
func (c *procedureReader) readNumber(o object, q *Quantity) {
	q.Unit = o.unit("unit", "")
	if n := o.maybe("target"); n != nil {
		q.Target = c.readTarget(n)
	}
	if n := o.maybe("tolerance"); n != nil {
		q.Tolerance = c.readTolerance(n, q.Target)
	}
	if n := o.maybe("uncertainty"); n != nil {
		u := c.object(n)
		q.Uncertainty = &Uncertainty{
			Percent:  u.bounded(u.maybe("percent"), "0", ""),
			Absolute: u.bounded(u.maybe("absolute"), "0", ""),
			K:        u.positive(u.maybe("k")),
		}
		if c.err == nil && (q.Uncertainty.Percent == "") == (q.Uncertainty.Absolute == "") {
			u.refuse(n, "expected either percent or absolute")
		}
		u.done()
	}
	if o.has("decision") {
		q.Decision = o.word("decision", Simple, Guarded)
	}
	if q.Decision == Guarded && q.Uncertainty == nil && c.err == nil {
		o.refuse(o.n.field("decision"), "expected uncertainty beside a guarded decision")
	}
	q.GuardFactor = o.bounded(o.maybe("guard_factor"), "0", "")
}

func (c *procedureReader) readTarget(n *node) *Target {
	o := c.object(n)
	defer o.done()
	if o.has("value") {
		return &Target{Value: o.decimal("value")}
	}
	t := &Target{By: o.label("by")}
	list := o.need("curve", words.Say("a list of points"))
	for _, item := range o.list(list) {
		p := c.object(item)
		t.Curve = append(t.Curve, CurvePoint{
			At:    p.bounded(p.need("at", words.Say("a decimal number")), "-273.14", ""),
			Value: p.positive(p.need("value", words.Say("a decimal number"))),
		})
		p.done()
		if last := len(t.Curve) - 1; c.err == nil && last > 0 &&
			measure.Must(t.Curve[last].At).Cmp(measure.Must(t.Curve[last-1].At)) <= 0 {
			p.refuse(item.field("at"), "expected points in rising order")
		}
	}
	if c.err == nil && len(t.Curve) < 2 {
		o.refuse(list, "expected a curve of at least two points")
	}
	return t
}

func (c *procedureReader) readTolerance(n *node, target *Target) *Tolerance {
	o := c.object(n)
	defer o.done()
	t := &Tolerance{
		Percent:  o.bounded(o.maybe("percent"), "0", ""),
		Absolute: o.bounded(o.maybe("absolute"), "0", ""),
		Lower:    o.number(o.maybe("lower")),
		Upper:    o.number(o.maybe("upper")),
	}
	if c.err != nil {
		return t
	}
	limits := t.Lower != "" && t.Upper != ""
	switch {
	case t.ways() != 1 || !limits && t.Lower+t.Upper != "":
		o.refuse(n, "expected one of percent, absolute, or lower and upper")
	case limits && measure.Must(t.Lower).Cmp(measure.Must(t.Upper)) > 0:
		o.refuse(n.field("upper"), "expected an upper limit that is not below the lower one")
	case !limits && target == nil:
		o.refuse(n, "expected a target beside this tolerance")
	case t.Percent != "" && target.Value != "" && measure.Must(target.Value).Sign() <= 0:
		o.refuse(n, "expected a target above zero beside a tolerance in percent")
	}
	return t
}

// ways counts the ways in which the tolerance is given.
func (t Tolerance) ways() int {
	count := 0
	for _, given := range []string{t.Percent, t.Absolute, t.Lower + t.Upper} {
		if given != "" {
			count++
		}
	}
	return count
}
