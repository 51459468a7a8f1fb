package measure

// Limits are the two ends of a tolerance; both belong to it.
type Limits struct{ Lower, Upper Decimal }

// Within makes two fixed limits.
func Within(lower, upper Decimal) Limits { return Limits{lower, upper} }

// WithinPercent is target × (1 − p/100) … target × (1 + p/100).
func WithinPercent(target, p Decimal) Limits {
	hundred := Whole(100)
	return Limits{
		target.Times(hundred.Minus(p)).Times(hundredth).Reduced(),
		target.Times(hundred.Plus(p)).Times(hundredth).Reduced(),
	}
}

var hundredth = Must("0.01")

// PercentOf is p percent of the size of a value, exact.
func PercentOf(value, p Decimal) Decimal { return value.Abs().Times(p).Times(hundredth) }

// WithinAbsolute is target ± a.
func WithinAbsolute(target, a Decimal) Limits {
	return Limits{target.Minus(a).Reduced(), target.Plus(a).Reduced()}
}

// Hold says whether the value lies inside, ends included.
func (l Limits) Hold(value Decimal) bool {
	return l.Lower.Cmp(value) <= 0 && value.Cmp(l.Upper) <= 0
}

// Guarded draws both limits in by the guard band g.
func (l Limits) Guarded(g Decimal) Limits {
	return Limits{l.Lower.Plus(g), l.Upper.Minus(g)}
}

// Deviation is (value − target)/target × 100, rounded half-even to 2 decimals.
// The target is not zero.
func Deviation(value, target Decimal) Decimal {
	return value.Minus(target).Times(Whole(100)).Over(target).Round(2)
}
