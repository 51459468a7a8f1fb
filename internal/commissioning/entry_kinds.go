package commissioning

import (
	"slices"

	"settlemark/internal/words"
)

// fieldsOf reads the fields that only this kind carries.
var fieldsOf map[Kind]func(*entryReader, object, *Entry)

func init() { // corrections read entries again
	fieldsOf = map[Kind]func(*entryReader, object, *Entry){
		KindStep:         readStep,
		KindReading:      readReading,
		KindStart:        readStart,
		KindFault:        readFault,
		KindFaultCleared: readFaultCleared,
		KindLoad:         readLoad,
		KindDrain:        readDrain,
		KindEmpty:        readEmpty,
		KindDisposition:  readDisposition,
		KindCorrection:   readCorrection,
		KindNote:         func(_ *entryReader, o object, e *Entry) { e.Text = o.label("text") },
		KindPhoto:        readPhoto,
	}
}

// readStep reads a step answer with what its step asks for. A step that is
// answered by another kind of entry may be ticked too; that answers nothing.
func readStep(d *entryReader, o object, e *Entry) {
	step := d.step(o, o.need("step", words.Say("the id of a step")))
	e.Step = step.ID
	e.Outcome = o.word("outcome", Done, NotApplicable)
	if e.Outcome != Done {
		return
	}
	switch step.Ask {
	case AskValue:
		amount(o, e, d.quantities[step.Quantity].Unit)
	case AskText, AskSample:
		e.Text = o.label("text")
	case AskChoice:
		e.Choice = o.word("choice", step.Options...)
	}
}

func readReading(d *entryReader, o object, e *Entry) {
	n := o.need("quantity", words.Say("the key of a quantity"))
	e.Quantity = o.scalar(n, words.Say("the key of a quantity"), isText)
	if d.err != nil {
		return
	}
	quantity, ok := d.quantities[e.Quantity]
	if !ok {
		o.refuse(n, "expected the key of a quantity of the procedure, found %s", quote(e.Quantity))
		return
	}
	if quantity.State == nil {
		amount(o, e, quantity.Unit)
		return
	}
	o.need("state", words.Say("true or false"))
	e.State = o.flag("state")
}

func readStart(d *entryReader, o object, e *Entry) {
	e.Step = d.step(o, o.maybe("step"), AskStart).ID
}

func readFault(d *entryReader, o object, e *Entry) {
	e.Fault = o.word("fault", d.faults...)
	if e.Fault == FaultOther {
		e.Note = o.label("note")
	}
}

func readFaultCleared(_ *entryReader, o object, e *Entry) {
	e.Ref = o.whole("ref", 1)
	e.How = o.label("how")
}

func readLoad(d *entryReader, o object, e *Entry) {
	e.Position = Position(o.word("position", string(Ink), string(MakeUp)))
	e.Fluid = o.label("fluid")
	lot := o.text("lot")
	e.Lot = &lot
	e.Expires = o.date("expires")
	e.LevelPercent = o.bounded(o.need("level_percent", words.Say("a decimal number")), "0", "100")
	e.Step = d.step(o, o.maybe("step"), AskLoad).ID
}

func readDrain(d *entryReader, o object, e *Entry) {
	step := d.step(o, o.need("step", words.Say("the id of a step")), AskDrain)
	e.Step = step.ID
	e.Container = o.word("container", step.Container)
	e.VolumeML = o.bounded(o.need("volume_ml", words.Say("a decimal number")), "0", "")
}

func readEmpty(d *entryReader, o object, e *Entry) {
	n := o.need("container", words.Say("the name of a container"))
	e.Container = o.scalar(n, words.Say("the name of a container"), isText)
	if d.err == nil && !d.containers[e.Container] {
		o.refuse(n, "expected a container of the procedure, found %s", quote(e.Container))
	}
	e.Route = o.label("route")
}

func readDisposition(_ *entryReader, o object, e *Entry) {
	e.Ref = o.whole("ref", 1)
	e.Decision = o.word("decision", Accept, Reject)
	e.Reason = o.label("reason")
	e.By = o.label("by")
}

func readCorrection(d *entryReader, o object, e *Entry) {
	e.Strikes = o.whole("strikes", 1)
	e.Reason = o.label("reason")
	if n := o.maybe("replacement"); n != nil {
		allowed := slices.DeleteFunc(slices.Clone(kinds), func(k string) bool { return k == string(KindCorrection) })
		replacement := d.body(d.object(n), allowed)
		e.Replacement = &replacement
	}
}

func readPhoto(d *entryReader, o object, e *Entry) {
	e.SHA256 = o.label("sha256")
	e.MediaType = o.label("media_type")
	e.Step = d.step(o, o.maybe("step")).ID
}
