package commissioning

import (
	"slices"
	"time"

	"settlemark/internal/words"
)

func (c *procedureReader) gates(parent object) {
	n := parent.need("gates", words.Say("an object"))
	if n == nil {
		return
	}
	o := c.object(n)
	c.apart(func() {
		if n := o.need("viscosity", words.Say("an object")); n != nil {
			c.viscosityGate(c.object(n))
		}
	})
	c.apart(func() {
		if n := o.need("hold", words.Say("an object")); n != nil {
			c.holdGate(c.object(n))
		}
	})
	o.done()
}

func (c *procedureReader) viscosityGate(o object) {
	c.p.Gates.Viscosity = ViscosityGate{
		Quantity:       c.judgedQuantity(o, "quantity"),
		Checks:         o.whole("checks", 1),
		SpacingAtLeast: o.duration("spacing_at_least", 0),
	}
	o.done()
}

func (c *procedureReader) holdGate(o object) {
	gate := HoldGate{
		Soak:        o.duration("soak", time.Nanosecond),
		FreshWithin: o.duration("fresh_within", time.Nanosecond),
	}
	list := o.need("conditions", words.Say("a list of quantities"))
	for _, n := range o.list(list) {
		q := c.quantity(o, n)
		if q == nil {
			return
		}
		switch {
		case slices.Contains(gate.Conditions, q.Key):
			o.refuse(n, "expected each condition only once, found %s again", quote(q.Key))
		case q.State == nil && q.Tolerance == nil:
			o.refuse(n, "expected a state or a quantity with a tolerance, %s has none", quote(q.Key))
		case q.MaxGap.D == 0:
			o.refuse(n, "expected a condition with max_gap, %s has none", quote(q.Key))
		case gate.FreshWithin.D < q.MaxGap.D:
			o.refuse(o.n.field("fresh_within"), "expected a duration not shorter than max_gap %s of %s", q.MaxGap.Text, quote(q.Key))
		}
		gate.Conditions = append(gate.Conditions, q.Key)
	}
	if c.err == nil && len(gate.Conditions) == 0 {
		o.refuse(list, "expected at least one condition")
	}
	o.done()
	c.p.Gates.Hold = gate
}
