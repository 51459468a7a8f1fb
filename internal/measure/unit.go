package measure

import "slices"

// Kind is what a unit measures.
type Kind string

// The kinds that Settlemark knows.
const (
	Viscosity   Kind = "viscosity"
	Temperature Kind = "temperature"
	Pressure    Kind = "pressure"
	Volume      Kind = "volume"
)

// unit turns a value into the base unit of its kind: (value + offset) × times ÷ over.
type unit struct {
	name   string
	kind   Kind
	offset Decimal
	times  Decimal
	over   Decimal
}

// units lists the base unit of each kind first. The pound per square inch is
// the quotient to 16 digits that the rules fix.
var units = []unit{
	{"mPa.s", Viscosity, Whole(0), Whole(1), Whole(1)},
	{"cP", Viscosity, Whole(0), Whole(1), Whole(1)},
	{"Pa.s", Viscosity, Whole(0), Whole(1000), Whole(1)},
	{"degC", Temperature, Whole(0), Whole(1), Whole(1)},
	{"degF", Temperature, Whole(-32), Whole(5), Whole(9)},
	{"K", Temperature, Must("-273.15"), Whole(1), Whole(1)},
	{"kPa", Pressure, Whole(0), Whole(1), Whole(1)},
	{"bar", Pressure, Whole(0), Whole(100), Whole(1)},
	{"psi", Pressure, Whole(0), Must("6.894757293168361"), Whole(1)},
	{"MPa", Pressure, Whole(0), Whole(1000), Whole(1)},
	{"mL", Volume, Whole(0), Whole(1), Whole(1)},
	{"L", Volume, Whole(0), Whole(1000), Whole(1)},
}

func find(name string) (unit, bool) {
	i := slices.IndexFunc(units, func(u unit) bool { return u.name == name })
	if i < 0 {
		return unit{}, false
	}
	return units[i], true
}

// KindOf says what a unit measures; false when it is no unit of ours.
func KindOf(name string) (Kind, bool) {
	u, ok := find(name)
	return u.kind, ok
}

// UnitsOf lists the units of a kind, its base unit first.
func UnitsOf(kind Kind) []string {
	var names []string
	for _, u := range units {
		if u.kind == kind {
			names = append(names, u.name)
		}
	}
	return names
}

// Convert gives the value in another unit of the same kind: exact where the
// factor is exact, and digit for digit as typed where the factor is one. False
// when either unit is unknown or their kinds differ.
func Convert(value Decimal, from, to string) (Decimal, bool) {
	f, t, ok := pair(from, to)
	switch {
	case !ok:
		return Decimal{}, false
	case f.offset.Cmp(t.offset) == 0 && f.scaledAs(t):
		return value, true
	}
	return value.Plus(f.offset).scaled(f, t).Minus(t.offset).Reduced(), true
}

// ConvertDifference is Convert for the distance between two values, such as an
// uncertainty: 0.3 K is 0.3 degC.
func ConvertDifference(difference Decimal, from, to string) (Decimal, bool) {
	f, t, ok := pair(from, to)
	switch {
	case !ok:
		return Decimal{}, false
	case f.scaledAs(t):
		return difference, true
	}
	return difference.scaled(f, t).Reduced(), true
}

// pair finds two units of one kind.
func pair(from, to string) (f, t unit, ok bool) {
	f, known := find(from)
	t, wanted := find(to)
	return f, t, known && wanted && f.kind == t.kind
}

func (d Decimal) scaled(f, t unit) Decimal {
	return d.Times(f.times).Times(t.over).Over(t.times.Times(f.over))
}

func (u unit) scaledAs(v unit) bool {
	return u.times.Cmp(v.times) == 0 && u.over.Cmp(v.over) == 0
}
