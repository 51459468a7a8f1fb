package commissioning

import (
	"encoding/json"
	"errors"
	"io"
	"slices"
	"time"
	_ "time/tzdata" // the zones of sites, on machines that have none

	"settlemark/internal/measure"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// LogbookFormat names the layout of a logbook file.
const LogbookFormat = "settlemark.logbook/1"

// ParseLogbook reads a logbook, strictly. An error is one line: the JSON path
// and what was expected there.
func ParseLogbook(r io.Reader) (Logbook, error) {
	root, err := parseJSON(r)
	if err != nil {
		return Logbook{}, err
	}
	d := &reader{}
	o := d.object(root)
	book := Logbook{
		Format: o.word("format", LogbookFormat),
		Run:    readRun(o),
	}
	book.Procedure = readProcedure(d, o.need("procedure", words.Say("a procedure")))
	book.At = o.instant("at")
	o.list(o.maybe("signatures")) // an export shows them; no rule reads them
	entries := o.list(o.need("entries", words.Say("a list of entries")))
	o.done()
	if d.err != nil {
		return Logbook{}, d.err
	}
	book.Entries, err = readEntries(&book.Procedure, entries)
	if err != nil {
		return Logbook{}, err
	}
	return book, nil
}

func readRun(parent object) LogbookRun {
	n := parent.need("run", words.Say("an object"))
	if n == nil {
		return LogbookRun{}
	}
	o := parent.object(n)
	run := LogbookRun{ID: o.label("id"), OpenedAt: o.instant("opened_at")}
	if n := o.need("unit", words.Say("an object")); n != nil {
		unit := o.object(n)
		run.Unit = LogbookUnit{
			Tag: unit.label("tag"), Serial: unit.text("serial"),
			Ink: unit.label("ink"), Makeup: unit.label("makeup"),
		}
		unit.done()
	}
	if n := o.need("site", words.Say("an object")); n != nil {
		site := o.object(n)
		run.Site = LogbookSite{Name: site.text("name"), TimeZone: readZone(site)}
		site.done()
	}
	run.Instruments = readInstruments(o)
	o.done()
	return run
}

// readInstruments reads what the run names to measure with, which may be absent.
func readInstruments(parent object) []Instrument {
	var all []Instrument
	for _, n := range parent.list(parent.maybe("instruments")) {
		o := parent.object(n)
		i := Instrument{
			Code: o.label("code"), Name: o.label("name"), Serial: o.label("serial"),
			Quantity: measure.Kind(o.text("quantity")), Uncertainty: o.decimal("uncertainty"), Unit: o.text("unit"),
			K: o.decimal("k"), Due: o.date("due"),
		}
		o.done()
		if o.err != nil {
			return nil
		}
		checked, err := i.Checked()
		var refusal *problem.Error
		switch {
		case errors.As(err, &refusal):
			o.refuse(n.field(refusal.Field), "expected what the register of instruments takes. %s", refusal.Sentence)
		case slices.ContainsFunc(all, func(other Instrument) bool { return other.Code == checked.Code }):
			o.refuse(n.field("code"), "expected each only once, found %s again", quote(checked.Code))
		}
		all = append(all, checked)
	}
	return all
}

// readZone reads an IANA time zone. "" and "Local" would mean whatever the
// machine is set to.
func readZone(o object) string {
	zone := o.label("time_zone")
	if o.err != nil {
		return ""
	}
	if _, err := time.LoadLocation(zone); err != nil || zone == "Local" {
		o.refuse(o.n.field("time_zone"), "expected an IANA time zone such as Europe/Dublin, found %s", quote(zone))
	}
	return zone
}

// readEntries reads the entries and what they say of one another. A clearing
// or a disposition may name an entry that arrived later; a correction may not.
func readEntries(p *Procedure, nodes []*node) ([]Entry, error) {
	d := newEntryReader(p)
	l := linksOf(nil)
	entries := make([]Entry, len(nodes))
	for i, n := range nodes {
		entries[i] = d.entry(n)
		if d.err == nil && entries[i].Seq != i+1 {
			d.refuse(n.field("seq"), "expected seq %d, found %d", i+1, entries[i].Seq)
		}
		if d.err != nil {
			return nil, d.err
		}
		if field, expected := l.read(&entries[i]); !expected.Empty() {
			return nil, n.refuse(n.path()+"."+field, "%s", expected)
		}
	}
	for i, n := range nodes {
		if field, expected := l.check(&entries[i]); !expected.Empty() {
			return nil, n.refuse(n.path()+"."+field, "%s", expected)
		}
	}
	return entries, nil
}

// MarshalJSON writes the canonical form: ParseLogbook reads it back to the same judgement.
func (b Logbook) MarshalJSON() ([]byte, error) {
	type plain Logbook // without this method
	b.Format = LogbookFormat
	if b.Entries == nil {
		b.Entries = []Entry{}
	}
	return json.Marshal(plain(b))
}
