package commissioning

import (
	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// The gates by name. A step may wait for any of them but the steps' own.
const (
	GateSteps     = "steps"
	GateFluids    = "fluids"
	GateFaults    = "faults"
	GateViscosity = "viscosity"
	GateHold      = "hold"
)

func (c *procedureReader) faults(parent object) {
	n := parent.need("faults", words.Say("an object"))
	if n == nil {
		return
	}
	o := c.object(n)
	seen := map[string]bool{}
	for _, item := range o.list(o.maybe("expected")) {
		f := c.object(item)
		kind := ExpectedFault{Kind: f.label("kind"), AtMost: f.whole("at_most", 0)}
		f.done()
		if c.err == nil && (seen[kind.Kind] || kind.Kind == FaultOther) {
			f.refuse(item.field("kind"), "expected each kind only once, and not %s", FaultOther)
		}
		seen[kind.Kind] = true
		c.p.Faults.Expected = append(c.p.Faults.Expected, kind)
	}
	if others := o.maybe("others"); others != nil {
		c.p.Faults.Others = o.labels(others)
		for i, kind := range c.p.Faults.Others {
			if c.err == nil && seen[kind] {
				o.refuse(others.items[i], "expected a kind that is not under expected")
			}
		}
	}
	o.done()
}

func (c *procedureReader) sections(parent object) {
	items := parent.list(parent.need("sections", words.Say("a list of sections")))
	c.p.Sections = make([]Section, len(items))
	ids := map[string]bool{}
	containers := map[string]Step{}
	for i, n := range items {
		c.apart(func() { c.p.Sections[i] = c.readSection(n, ids, containers) })
	}
}

func (c *procedureReader) readSection(n *node, ids map[string]bool, containers map[string]Step) Section {
	section := Section{Steps: []Step{}}
	o := c.object(n)
	if c.err != nil {
		return section
	}
	section.Title = o.label("title")
	if n := o.maybe("cautions"); n != nil {
		section.Cautions = o.labels(n)
	}
	if any := o.flag("any_order"); any != nil {
		section.AnyOrder = *any
	}
	for _, item := range o.list(o.need("steps", words.Say("a list of steps"))) {
		c.apart(func() {
			step := c.readStep(item)
			c.once(item, step, ids, containers)
			section.Steps = append(section.Steps, step)
		})
	}
	o.done()
	return section
}

// once refuses an id used twice and a container of two sizes.
func (c *procedureReader) once(n *node, step Step, ids map[string]bool, containers map[string]Step) {
	if c.err != nil {
		return
	}
	if ids[step.ID] {
		c.refuse(n.field("id"), "expected each id only once, found %s again", quote(step.ID))
		return
	}
	ids[step.ID] = true
	if step.Ask != AskDrain {
		return
	}
	first, known := containers[step.Container]
	if !known {
		containers[step.Container] = step
		return
	}
	same := func(a, b string) bool { return measure.Must(a).Cmp(measure.Must(b)) == 0 }
	if !same(first.CapacityML, step.CapacityML) || !same(first.FillAtMostPercent, step.FillAtMostPercent) {
		c.refuse(n, "expected capacity and fill limit of container %s as in step %s", quote(step.Container), quote(first.ID))
	}
}

func (c *procedureReader) readStep(n *node) Step {
	o := c.object(n)
	step := Step{
		ID:   o.label("id"),
		Text: o.label("text"),
		Ask: Ask(o.word("ask", string(AskConfirm), string(AskValue), string(AskText), string(AskChoice),
			string(AskDrain), string(AskLoad), string(AskPhoto), string(AskStart), string(AskSample), string(AskGate))),
	}
	if optional := o.flag("optional"); optional != nil {
		step.Optional = *optional
	}
	switch step.Ask {
	case AskValue:
		step.Quantity = c.judgedQuantity(o, "quantity")
	case AskChoice:
		options := o.need("options", words.Say("a list of options"))
		step.Options = o.labels(options)
		if c.err == nil && len(step.Options) == 0 {
			o.refuse(options, "expected at least one option")
		}
	case AskDrain:
		step.Container = o.label("container")
		step.CapacityML = o.positive(o.need("capacity_ml", words.Say("a decimal number")))
		step.FillAtMostPercent = o.bounded(o.need("fill_at_most_percent", words.Say("a decimal number")), "0", "100")
	case AskLoad:
		step.Position = Position(o.word("position", string(Ink), string(MakeUp)))
		step.Fluid = o.label("fluid")
		step.LevelAtLeastPercent = o.bounded(o.maybe("level_at_least_percent"), "0", "100")
	case AskGate:
		step.Gate = o.word("gate", GateFluids, GateFaults, GateViscosity, GateHold)
	}
	o.done()
	return step
}
