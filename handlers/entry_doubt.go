package handlers

import (
	"fmt"
	"strings"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/templates"
)

// farPercent from the last check is asked about before it is stored.
// Common practice, no source.
var farPercent = measure.Whole(15)

// doubt is a question about an entry that may be a slip, "" when there is none.
// Saying yes stores it as it is: a question never stops a fact.
func doubt(v templates.RunView, e commissioning.Entry) string {
	switch e.Kind {
	case commissioning.KindReading:
		return doubtReading(v, e)
	case commissioning.KindLoad:
		return doubtLoad(v, e)
	case commissioning.KindDrain:
		return doubtDrain(v, e)
	case commissioning.KindStep:
		return doubtValue(v, e)
	}
	return ""
}

func doubtReading(v templates.RunView, e commissioning.Entry) string {
	last := v.Last(e.Quantity)
	if e.State != nil || last == nil || last.Value == "" {
		return ""
	}
	q, _ := v.Quantity(e.Quantity)
	value, ok := measure.Convert(measure.Must(e.Value), e.Unit, q.Unit)
	before := measure.Must(last.Value)
	if !ok || before.Sign() == 0 || !far(value, before) {
		return ""
	}
	question := fmt.Sprintf("%s %s? The last check was %s.", e.Value, measure.Sign(e.Unit), last.Value)
	for _, slip := range []int64{10, 100, 1000} {
		if !far(value.Times(measure.Whole(slip)), before) || !far(value.Over(measure.Whole(slip)), before) {
			return question + " Decimal point?"
		}
	}
	return question
}

// far says whether a value lies more than farPercent from another.
func far(value, from measure.Decimal) bool {
	return value.Minus(from).Abs().Times(measure.Whole(100)).Cmp(from.Abs().Times(farPercent)) > 0
}

func doubtLoad(v templates.RunView, e commissioning.Entry) string {
	var odd []string
	wanted := v.Unit.Ink
	if e.Position == commissioning.MakeUp {
		wanted = v.Unit.Makeup
	}
	step := v.Step(e.Step)
	if step != nil {
		wanted = v.Wanted(*step)
	}
	if e.Fluid != wanted {
		odd = append(odd, fmt.Sprintf("This is %s. %s takes %s here. Do not connect it.", e.Fluid, v.Unit.Tag, wanted))
	}
	if e.Expires < e.ObservedAt.In(v.Zone).Format("2006-01-02") {
		odd = append(odd, fmt.Sprintf("Its use-by date, %s, is past.", e.Expires))
	}
	if step != nil && step.LevelAtLeastPercent != "" && measure.Must(e.LevelPercent).Cmp(measure.Must(step.LevelAtLeastPercent)) < 0 {
		odd = append(odd, fmt.Sprintf("%s %% is below the %s %% that this line asks for.", e.LevelPercent, step.LevelAtLeastPercent))
	}
	if len(odd) == 0 {
		return ""
	}
	return strings.Join(odd, " ") + " If it is in the unit already, record it as it is."
}

func doubtDrain(v templates.RunView, e commissioning.Entry) string {
	for _, c := range v.Exam.Containers {
		if c.Name != e.Container {
			continue
		}
		after := measure.Must(c.VolumeML).Plus(measure.Must(e.VolumeML))
		if after.Cmp(measure.Must(c.LimitML)) > 0 {
			return fmt.Sprintf("That makes %s mL in “%s”, over its limit of %s mL. Was it emptied first? Record that before. If it is so full, record it: a supervisor decides.",
				after, c.Name, c.LimitML)
		}
	}
	return ""
}

// doubtValue lets the rules say whether the value of a line is in tolerance.
func doubtValue(v templates.RunView, e commissioning.Entry) string {
	step := v.Step(e.Step)
	if step == nil || step.Ask != commissioning.AskValue || e.Outcome != commissioning.Done {
		return ""
	}
	p := hypothetical(v, commissioning.Entry{
		Kind: commissioning.KindReading, Quantity: step.Quantity, Value: e.Value, Unit: e.Unit, ObservedAt: e.ObservedAt,
	})
	if p.Good {
		return ""
	}
	return fmt.Sprintf("%s %s: %s Look again. If it is so, record it: a supervisor decides.", e.Value, measure.Sign(e.Unit), p.Why)
}

// hypothetical judges a reading as if it were the newest, without storing it.
func hypothetical(v templates.RunView, e commissioning.Entry) rules.Point {
	book := v.Logbook()
	e.Seq = len(book.Entries) + 1
	book.Entries = append(book.Entries[:len(book.Entries):len(book.Entries)], e)
	for _, s := range rules.Examine(book, v.Now).Series {
		if s.Quantity.Key != e.Quantity {
			continue
		}
		for _, p := range s.Points {
			if p.Entry.Seq == e.Seq {
				return p
			}
		}
	}
	return rules.Point{}
}
