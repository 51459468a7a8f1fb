package commissioning

import (
	"encoding/json"
	"slices"
	"time"

	"settlemark/internal/words"
)

// ProcedureFormat names the layout of a procedure revision.
const ProcedureFormat = "settlemark.procedure/1"

// ParseProcedure reads a procedure revision written in YAML, strictly. What it
// returns can be judged; an error is one line with the line of the file, the
// path and the reason.
func ParseProcedure(yaml []byte) (Procedure, error) {
	root, err := parseYAML(yaml)
	if err != nil {
		return Procedure{}, err
	}
	d := &reader{}
	p := readProcedure(d, root)
	if d.err != nil {
		return Procedure{}, d.err
	}
	return p, nil
}

// readProcedure reads each part apart, so that all of them can be told what is
// wrong; the first refusal stands in d.err.
func readProcedure(d *reader, n *node) Procedure {
	if d.err != nil {
		return Procedure{}
	}
	o := d.object(n)
	if d.err != nil {
		return Procedure{}
	}
	var p Procedure
	c := &procedureReader{reader: d, p: &p}
	for _, part := range []func(object){c.head, c.quantities, c.faults, c.sections, c.gates, object.done} {
		d.apart(func() { part(o) })
	}
	if len(d.kept) > 0 {
		d.err = d.kept[0]
	}
	return p
}

// head reads each of its fields apart, so that none stays unread after a
// refusal and is taken for one that nobody knows.
func (c *procedureReader) head(o object) {
	for _, read := range []func(){
		func() { c.p.Format = o.word("format", ProcedureFormat) },
		func() { c.p.Key = o.label("key") },
		func() { c.p.Title = o.label("title") },
		func() { c.p.Revision = o.whole("revision", 1) },
		func() { c.p.LateAfter = o.duration("late_after", 0) },
		func() { c.p.ValidFor = o.span(o.maybe("valid_for"), time.Nanosecond) },
		func() {
			if n := o.maybe("voided_by"); n != nil {
				c.p.VoidedBy = o.labels(n)
			}
		},
	} {
		c.apart(read)
	}
}

// procedureReader reads the parts of a procedure that look at one another.
type procedureReader struct {
	*reader
	p       *Procedure
	unknown bool // a quantity was refused, so nothing can be said of what names one
}

// quantity finds the quantity that n names, nil after a refusal.
func (c *procedureReader) quantity(o object, n *node) *Quantity {
	key := o.scalar(n, words.Say("the key of a quantity"), isText)
	if n == nil || c.err != nil || c.unknown {
		return nil
	}
	for i := range c.p.Quantities {
		if c.p.Quantities[i].Key == key {
			return &c.p.Quantities[i]
		}
	}
	o.refuse(n, "expected the key of a quantity, found %s", quote(key))
	return nil
}

// judgedQuantity finds a quantity with a tolerance.
func (c *procedureReader) judgedQuantity(o object, key string) string {
	n := o.need(key, words.Say("the key of a quantity"))
	q := c.quantity(o, n)
	if q == nil {
		return ""
	}
	if q.Tolerance == nil {
		o.refuse(n, "expected a quantity with a tolerance, %s has none", quote(q.Key))
	}
	return q.Key
}

// MarshalJSON writes the text as it was typed.
func (d Duration) MarshalJSON() ([]byte, error) { return json.Marshal(d.String()) }

func (d Duration) String() string {
	if d.Text == "" {
		return d.D.String()
	}
	return d.Text
}

// Quantity finds a quantity by its key.
func (p Procedure) Quantity(key string) (Quantity, bool) {
	for _, q := range p.Quantities {
		if q.Key == key {
			return q, true
		}
	}
	return Quantity{}, false
}

// Step finds a step by its id.
func (p Procedure) Step(id string) (Step, bool) {
	for _, section := range p.Sections {
		for _, step := range section.Steps {
			if step.ID == id {
				return step, true
			}
		}
	}
	return Step{}, false
}

// Kinds lists the kinds of fault that may be reported besides other.
func (f Faults) Kinds() []string {
	var kinds []string
	for _, expected := range f.Expected {
		kinds = append(kinds, expected.Kind)
	}
	for _, other := range f.Others {
		if !slices.Contains(kinds, other) {
			kinds = append(kinds, other)
		}
	}
	return kinds
}
