package commissioning

import (
	"bytes"

	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// FaultOther is the kind of a fault that the procedure does not name; it needs a note.
const FaultOther = "other"

// What a step answer, a disposition and a route into the logbook may say.
const (
	Done          = "done"
	NotApplicable = "not_applicable"

	Accept = "accept"
	Reject = "reject"
)

// DecodeEntry reads one entry that comes from a client: no seq and no
// received_at, which the server gives. What the entry says of other entries
// is checked by Logbook.Admits.
func DecodeEntry(data []byte, p Procedure) (Entry, error) {
	root, err := parseJSON(bytes.NewReader(data))
	if err != nil {
		return Entry{}, err
	}
	d := newEntryReader(&p)
	d.client = true
	e := d.entry(root)
	return e, d.err
}

// entryReader reads entries against one procedure.
type entryReader struct {
	reader
	steps      map[string]*Step
	quantities map[string]*Quantity
	containers map[string]bool
	faults     []string
	client     bool // seq and received_at are not the sender's to give
}

func newEntryReader(p *Procedure) *entryReader {
	d := &entryReader{
		steps:      map[string]*Step{},
		quantities: map[string]*Quantity{},
		containers: map[string]bool{},
		faults:     append(p.Faults.Kinds(), FaultOther),
	}
	for i := range p.Sections {
		for j := range p.Sections[i].Steps {
			step := &p.Sections[i].Steps[j]
			d.steps[step.ID] = step
			if step.Ask == AskDrain {
				d.containers[step.Container] = true
			}
		}
	}
	for i := range p.Quantities {
		d.quantities[p.Quantities[i].Key] = &p.Quantities[i]
	}
	return d
}

// kinds in the order of the specification.
var kinds = []string{
	string(KindStep), string(KindReading), string(KindStart), string(KindStop), string(KindFault),
	string(KindFaultCleared), string(KindLoad), string(KindDrain), string(KindEmpty),
	string(KindDisposition), string(KindCorrection), string(KindNote), string(KindPhoto),
}

// entry reads a whole entry; the replacement of a correction through body.
func (d *entryReader) entry(n *node) Entry {
	o := d.object(n)
	seq := 0
	if !d.client {
		seq = o.whole("seq", 1)
	}
	e := d.body(o, kinds)
	e.Seq = seq
	return e
}

// body reads all of an entry but its seq.
func (d *entryReader) body(o object, allowed []string) Entry {
	e := Entry{
		Kind:       Kind(o.word("kind", allowed...)),
		ObservedAt: o.instant("observed_at"),
		CapturedAt: o.instantMaybe("captured_at"),
		By:         o.remark("by"),
		Note:       o.remark("note"),
		ID:         o.remark("id"),
		Device:     o.remark("device"),
		Salt:       o.remark("salt"),
		Clock:      d.clock(o),
	}
	if !d.client {
		e.ReceivedAt = o.instantMaybe("received_at")
	}
	if o.has("via") {
		e.Via = o.word("via", "typed", "logger", "import", "scan")
	}
	if read := fieldsOf[e.Kind]; read != nil && d.err == nil {
		read(d, o, &e)
	}
	o.done()
	return e
}

func (d *entryReader) clock(o object) *Clock {
	n := o.maybe("clock")
	if n == nil {
		return nil
	}
	c := d.object(n)
	clock := &Clock{
		Raw:      c.remark("raw"),
		OffsetMS: c.millis("offset_ms"),
		ErrorMS:  c.millis("error_ms"),
		Proven:   c.flag("proven"),
	}
	c.done()
	return clock
}

// step reads the step that an entry names; it must exist and, unless asks is
// empty, ask for one of them.
func (d *entryReader) step(o object, n *node, asks ...Ask) *Step {
	id := o.scalar(n, words.Say("the id of a step"), isText)
	if n == nil || d.err != nil {
		return &Step{}
	}
	step, ok := d.steps[id]
	if !ok {
		o.refuse(n, "expected the id of a step of the procedure, found %s", quote(id))
		return &Step{}
	}
	for _, ask := range asks {
		if step.Ask == ask {
			return step
		}
	}
	if len(asks) > 0 {
		o.refuse(n, "expected a step that asks for %s, step %s asks for %s", asks[0], quote(id), step.Ask)
	}
	return step
}

// amount reads value and unit of one kind.
func amount(o object, e *Entry, unit string) {
	e.Value = o.decimal("value")
	kind, _ := measure.KindOf(unit)
	e.Unit = o.unit("unit", kind)
}
