package certificate

import (
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// full is an instant in site time with the offset of that moment.
func (c *composer) full(t time.Time) string {
	return t.In(c.zone).Format("2006-01-02 15:04:05 UTC-07:00")
}

// clock is an instant in a table: the time of day while it is the day on which
// the run began, else the date before it; the offset where it is another.
func (c *composer) clock(t time.Time) string {
	local, first := t.In(c.zone), c.begun.In(c.zone)
	text := local.Format("15:04:05")
	if local.Format(time.DateOnly) != first.Format(time.DateOnly) {
		text = local.Format("2006-01-02 15:04:05")
	}
	if local.Format("-07:00") != first.Format("-07:00") {
		text += local.Format(" UTC-07:00")
	}
	return text
}

func (c *composer) withUnit(value, u string) string {
	return joined(" ", c.number(value), measure.Sign(u))
}

// lower writes a name in the middle of a sentence: small in English, as it is
// elsewhere.
func (c *composer) lower(name string) string {
	if c.lang == words.English {
		return strings.ToLower(name)
	}
	return name
}

func (c *composer) quantity(key string) commissioning.Quantity {
	for _, q := range c.proc.Quantities {
		if q.Key == key {
			return q
		}
	}
	return commissioning.Quantity{Key: key, Label: key}
}

func (c *composer) stepText(id string) string {
	for _, s := range c.proc.Sections {
		for _, st := range s.Steps {
			if st.ID == id {
				return st.Text
			}
		}
	}
	return id
}

func plain(key string) string { return strings.ReplaceAll(key, "_", " ") }

// cut shortens what would not leave room for anything else. The whole text
// stands in the attached logbook.
func (c *composer) cut(t string, most int) string {
	t = strings.Join(strings.Fields(t), " ")
	if r := []rune(t); len(r) > most {
		return c.say("%s… (in full in the logbook)", strings.TrimSpace(string(r[:most])))
	}
	return t
}

// what describes an entry in a few words, with the time of day.
func (c *composer) what(e commissioning.Entry) string {
	at := c.clock(e.ObservedAt)
	switch e.Kind {
	case commissioning.KindReading:
		q := c.quantity(e.Quantity)
		if e.State != nil {
			return c.say("%s %s at %s", q.Label, c.yesNo(*e.State), at)
		}
		return c.say("%s %s at %s", q.Label, c.withUnit(e.Value, e.Unit), at)
	case commissioning.KindStep:
		return c.say("step “%s”%s at %s", c.cut(c.stepText(e.Step), 60), c.answer(e), at)
	case commissioning.KindDrain:
		return c.say("drain of %s mL into %s at %s", c.number(e.VolumeML), e.Container, at)
	case commissioning.KindLoad:
		return c.say("load of %s as %s, lot %s at %s", e.Fluid, place(e.Position), c.lot(e), at)
	case commissioning.KindFault:
		return c.say("%s fault at %s", commissioning.FaultName(e.Fault), at)
	case commissioning.KindFaultCleared:
		return c.say("clearing of entry %d at %s", e.Ref, at)
	case commissioning.KindEmpty:
		return c.say("emptying of %s at %s", e.Container, at)
	}
	return c.say("%s at %s", kindName(e.Kind), at)
}

// kindName names the kinds that what has no more to say of.
func kindName(k commissioning.Kind) words.Text {
	switch k {
	case commissioning.KindStart:
		return words.Say("start")
	case commissioning.KindStop:
		return words.Say("stop")
	case commissioning.KindNote:
		return words.Say("note")
	case commissioning.KindPhoto:
		return words.Say("photo")
	}
	return words.Plain(plain(string(k)))
}

// kindNames names several entries of a kind.
var kindNames = map[commissioning.Kind]words.Text{
	commissioning.KindStep:         words.Say("steps"),
	commissioning.KindStart:        words.Say("starts"),
	commissioning.KindStop:         words.Say("stops"),
	commissioning.KindFault:        words.Say("faults"),
	commissioning.KindFaultCleared: words.Say("clearings of faults"),
	commissioning.KindLoad:         words.Say("loads"),
	commissioning.KindDrain:        words.Say("drains"),
	commissioning.KindEmpty:        words.Say("emptyings"),
	commissioning.KindNote:         words.Say("notes"),
	commissioning.KindPhoto:        words.Say("photos"),
}

// place names what goes into a position.
func place(p commissioning.Position) words.Text {
	if p == commissioning.MakeUp {
		return words.Say("make-up")
	}
	return words.Say("ink")
}

func (c *composer) answer(e commissioning.Entry) string {
	if a := joined(", ", c.withUnit(e.Value, e.Unit), e.Text, e.Choice); a != "" {
		return ": " + c.cut(a, 60)
	}
	return ""
}

func (c *composer) lot(e commissioning.Entry) string {
	if e.Lot == nil || *e.Lot == "" {
		return c.say("not given")
	}
	return *e.Lot
}

func (c *composer) yesNo(b bool) string {
	if b {
		return c.say("yes")
	}
	return c.say("no")
}
