package parts

import (
	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// Amount is a recorded value with its unit. A reader who chose local units sees
// theirs in brackets behind it.
type Amount struct{ Value, Unit string }

// For says the amount to a reader.
func (a Amount) For(r words.Reader) string {
	own := words.Number(a.Value).In(r.Language) + " " + measure.Sign(a.Unit)
	if beside := a.Beside(r); beside != "" {
		return own + " " + beside
	}
	return own
}

// Beside is the amount in the reader's own unit, in brackets; "" when that is
// the unit it has.
func (a Amount) Beside(r words.Reader) string {
	local, sign, ok := measure.Local(r.Units).Beside(a.Value, a.Unit)
	if !ok {
		return ""
	}
	return "(" + words.Number(local).In(r.Language) + " " + sign + ")"
}

// LocalUnits are what somebody can choose from.
func LocalUnits() []Option {
	said := map[measure.Local]words.Text{
		measure.SIOnly: words.Say("None"),
		measure.Bar:    words.Say("bar, cP"),
		measure.US:     words.Say("°F, psi, US fl oz, cP"),
	}
	var all []Option
	for _, l := range measure.Locals {
		all = append(all, Option{Value: string(l), Label: said[l]})
	}
	return all
}
