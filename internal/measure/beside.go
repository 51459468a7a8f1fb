package measure

import "strings"

// Local names a set of units that a reader knows better than those of records.
type Local string

// The sets that a page can write beside a record's own unit.
const (
	SIOnly Local = "si"
	Bar    Local = "bar" // bar, cP
	US     Local = "us"  // degF, psi, US fluid ounces, cP
)

// Locals in the order in which they are offered.
var Locals = []Local{SIOnly, Bar, US}

// The fluid ounce stands beside millilitres only; nothing is recorded in it.
var fluidOunce = unit{"US fl oz", Volume, Whole(0), Must("29.5735295625"), Whole(1)}

var locals = map[Local]map[Kind]unit{
	Bar: {Pressure: known("bar"), Viscosity: known("cP")},
	US:  {Temperature: known("degF"), Pressure: known("psi"), Volume: fluidOunce, Viscosity: known("cP")},
}

func known(name string) unit {
	u, _ := find(name)
	return u
}

// Beside gives a recorded value in the local unit of its kind, for a reader: it
// is rounded to a last place no finer than that of what was recorded. False when
// the set has no other unit for it.
func (l Local) Beside(value, from string) (local, sign string, ok bool) {
	f, isOurs := find(from)
	to, has := locals[l][f.kind]
	d, err := Parse(value)
	if !isOurs || !has || err != nil || f.name == to.name {
		return "", "", false
	}
	if f.offset.Cmp(to.offset) == 0 && f.scaledAs(to) {
		return value, Sign(to.name), true
	}
	_, decimals, _ := strings.Cut(value, ".")
	tenth := Whole(1).Over(Whole(10))
	step := Whole(1)
	for range decimals {
		step = step.Times(tenth)
	}
	step = step.scaled(f, to)
	places, last := int32(0), tenth
	for last.Cmp(step) >= 0 && places < 9 {
		places, last = places+1, last.Times(tenth)
	}
	return d.Plus(f.offset).scaled(f, to).Minus(to.offset).Round(places).String(), Sign(to.name), true
}
