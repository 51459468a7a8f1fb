package handlers

import (
	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
	"settlemark/templates"
)

// farPercent from the last check is asked about before it is stored.
// Common practice, no source.
var farPercent = measure.Whole(15)

// doubt is a question about an entry that may be a slip, empty when there is none.
// Saying yes stores it as it is: a question never stops a fact.
func doubt(v templates.RunView, e commissioning.Entry) words.Text {
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
	return words.Text{}
}

func doubtReading(v templates.RunView, e commissioning.Entry) words.Text {
	last := v.Last(e.Quantity)
	if e.State != nil || last == nil || last.Value == "" {
		return words.Text{}
	}
	q, _ := v.Quantity(e.Quantity)
	value, ok := measure.Convert(measure.Must(e.Value), e.Unit, q.Unit)
	before := measure.Must(last.Value)
	if !ok || before.Sign() == 0 || !far(value, before) {
		return words.Text{}
	}
	question := words.Say("%s %s? The last check was %s.", words.Number(e.Value), measure.Sign(e.Unit), words.Number(last.Value))
	for _, slip := range []int64{10, 100, 1000} {
		if !far(value.Times(measure.Whole(slip)), before) || !far(value.Over(measure.Whole(slip)), before) {
			return words.Sentences(question, words.Say("Decimal point?"))
		}
	}
	return question
}

// far says whether a value lies more than farPercent from another.
func far(value, from measure.Decimal) bool {
	return value.Minus(from).Abs().Times(measure.Whole(100)).Cmp(from.Abs().Times(farPercent)) > 0
}

func doubtLoad(v templates.RunView, e commissioning.Entry) words.Text {
	var odd []words.Text
	wanted := v.Unit.Ink
	if e.Position == commissioning.MakeUp {
		wanted = v.Unit.Makeup
	}
	step := v.Step(e.Step)
	if step != nil {
		wanted = v.Wanted(*step)
	}
	if e.Fluid != wanted {
		odd = append(odd, words.Say("This is %s. %s takes %s here. Do not connect it.", e.Fluid, v.Unit.Tag, wanted))
	}
	if e.Expires < e.ObservedAt.In(v.Zone).Format("2006-01-02") {
		odd = append(odd, words.Say("Its use-by date, %s, is past.", e.Expires))
	}
	if step != nil && step.LevelAtLeastPercent != "" && measure.Must(e.LevelPercent).Cmp(measure.Must(step.LevelAtLeastPercent)) < 0 {
		odd = append(odd, words.Say("%s %% is below the %s %% that this line asks for.", words.Number(e.LevelPercent), words.Number(step.LevelAtLeastPercent)))
	}
	if len(odd) == 0 {
		return words.Text{}
	}
	return words.Sentences(append(odd, words.Say("If it is in the unit already, record it as it is."))...)
}

func doubtDrain(v templates.RunView, e commissioning.Entry) words.Text {
	for _, c := range v.Exam.Containers {
		if c.Name != e.Container {
			continue
		}
		after := measure.Must(c.VolumeML).Plus(measure.Must(e.VolumeML))
		if after.Cmp(measure.Must(c.LimitML)) > 0 {
			return words.Say("That makes %s mL in “%s”, over its limit of %s mL. Was it emptied first? Record that before. If it is so full, record it: a supervisor decides.",
				words.Number(after.String()), c.Name, words.Number(c.LimitML))
		}
	}
	return words.Text{}
}

// doubtValue lets the rules say whether the value of a line is in tolerance.
func doubtValue(v templates.RunView, e commissioning.Entry) words.Text {
	step := v.Step(e.Step)
	if step == nil || step.Ask != commissioning.AskValue || e.Outcome != commissioning.Done {
		return words.Text{}
	}
	p := hypothetical(v, commissioning.Entry{
		Kind: commissioning.KindReading, Quantity: step.Quantity, Value: e.Value, Unit: e.Unit, ObservedAt: e.ObservedAt,
	})
	if p.Good {
		return words.Text{}
	}
	return words.Say("%s %s: %s Look again. If it is so, record it: a supervisor decides.", words.Number(e.Value), measure.Sign(e.Unit), p.Why)
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
