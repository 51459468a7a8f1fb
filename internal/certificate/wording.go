package certificate

import (
	"fmt"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
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

// span writes how long something took, in minutes up to three hours, down to
// seconds where they matter.
func span(d time.Duration) string {
	d = d.Round(time.Second)
	h, m, s := 0, int(d/time.Minute), int(d/time.Second)%60
	if d >= 3*time.Hour {
		h, m = m/60, m%60
	}
	switch {
	case h == 0 && m == 0:
		return fmt.Sprintf("%d s", s)
	case h == 0 && s == 0:
		return fmt.Sprintf("%d min", m)
	case h == 0:
		return fmt.Sprintf("%d min %d s", m, s)
	case s == 0:
		return fmt.Sprintf("%d h %d min", h, m)
	}
	return fmt.Sprintf("%d h %d min %d s", h, m, s)
}

func withUnit(value, u string) string { return joined(" ", value, measure.Sign(u)) }

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
func cut(t string, most int) string {
	t = strings.Join(strings.Fields(t), " ")
	if r := []rune(t); len(r) > most {
		return strings.TrimSpace(string(r[:most])) + "… (in full in the logbook)"
	}
	return t
}

// what describes an entry in a few words.
func (c *composer) what(e commissioning.Entry) string {
	at := " at " + c.clock(e.ObservedAt)
	switch e.Kind {
	case commissioning.KindReading:
		q := c.quantity(e.Quantity)
		if e.State != nil {
			return fmt.Sprintf("%s %s%s", q.Label, yesNo(*e.State), at)
		}
		return fmt.Sprintf("%s %s%s", q.Label, withUnit(e.Value, e.Unit), at)
	case commissioning.KindStep:
		return fmt.Sprintf("step “%s”%s%s", cut(c.stepText(e.Step), 60), answer(e), at)
	case commissioning.KindDrain:
		return fmt.Sprintf("drain of %s mL into %s%s", e.VolumeML, e.Container, at)
	case commissioning.KindLoad:
		return fmt.Sprintf("load of %s as %s, lot %s%s", e.Fluid, e.Position.Word(), lot(e), at)
	case commissioning.KindFault:
		return plain(e.Fault) + " fault" + at
	case commissioning.KindFaultCleared:
		return fmt.Sprintf("clearing of entry %d%s", e.Ref, at)
	case commissioning.KindEmpty:
		return fmt.Sprintf("emptying of %s%s", e.Container, at)
	}
	return plain(string(e.Kind)) + at
}

func answer(e commissioning.Entry) string {
	if a := joined(", ", withUnit(e.Value, e.Unit), e.Text, e.Choice); a != "" {
		return ": " + cut(a, 60)
	}
	return ""
}

func lot(e commissioning.Entry) string {
	if e.Lot == nil || *e.Lot == "" {
		return "not given"
	}
	return *e.Lot
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func entries(n int) string {
	if n == 1 {
		return "1 entry"
	}
	return fmt.Sprintf("%d entries", n)
}
