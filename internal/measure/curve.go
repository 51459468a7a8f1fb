package measure

import (
	"math"
	"slices"

	"github.com/cockroachdb/apd/v3"
)

// The precision at which a curve is computed, and the digits that are trusted
// of it. Cutting the working digits off turns 5.0999…9 back into the exact 5.1.
const (
	curveWork    = 60
	curveTrusted = 48
)

var celsiusZero = Must("273.15")

// Point is a target at a temperature in °C.
type Point struct{ At, Value Decimal }

// Curve gives a target by temperature: between neighbouring points ln(value) is
// linear in 1/T with T in kelvin (Andrade, η = A·exp(B/T)). It does not
// extrapolate.
//
// The law has two constants, so it meets two points and strays between them. For
// water, which bends more than solvents do, by at most 2.4 % over 30 K, 0.4 % over
// 10 K and 0.11 % over 5 K between 5 and 50 °C (IAPWS; a test holds it). Such a
// bound is that of the points given, not of the ink.
type Curve struct {
	points []Point
	near   []rough // of each point
}

// rough is a point in binary arithmetic: its temperature in kelvin and ln(value).
type rough struct{ kelvin, log float64 }

// NewCurve takes at least two points in rising order, with values above zero
// and temperatures above absolute zero.
func NewCurve(points []Point) Curve {
	c := Curve{points: points}
	for _, p := range points {
		c.near = append(c.near, rough{kelvin(p.At).Float(), math.Log(p.Value.Float())})
	}
	return c
}

// At is the target at a temperature in °C, rounded half-even to 4 decimals;
// false outside the curve.
func (c Curve) At(celsius Decimal) (Decimal, bool) {
	i, onPoint := slices.BinarySearchFunc(c.points, celsius, func(p Point, t Decimal) int { return p.At.Cmp(t) })
	switch {
	case onPoint:
		return c.points[i].Value.Round(4), true
	case i == 0 || i == len(c.points):
		return Decimal{}, false
	}
	a, b := c.points[i-1], c.points[i]
	if a.Value.Cmp(b.Value) == 0 {
		return a.Value.Round(4), true
	}
	if near, sure := c.estimate(celsius, i); sure {
		return near, true
	}
	return c.compute(celsius, i), true
}

// estimate finds the target in binary arithmetic, and says whether it is sure
// of the rounding. Two points at least 0.1 K apart whose logarithms differ by at
// most 10 keep its error below 1e-11 of the value; it trusts itself only where
// the next rounding border is a hundred times farther off.
func (c Curve) estimate(celsius Decimal, i int) (Decimal, bool) {
	a, b, t := c.near[i-1], c.near[i], kelvin(celsius).Float()
	steps := 1e4 * math.Exp(a.log+(b.log-a.log)*((t-a.kelvin)*b.kelvin)/((b.kelvin-a.kelvin)*t))
	whole, rest := math.Modf(steps)
	tame := b.kelvin-a.kelvin >= 0.1 && math.Abs(b.log-a.log) <= 10 && steps < 1e9
	if !tame || math.Abs(rest-0.5) < steps*1e-9+1e-9 {
		return Decimal{}, false
	}
	if rest > 0.5 {
		whole++
	}
	return Decimal{apd.New(int64(whole), -4)}, true
}

func kelvin(celsius Decimal) Decimal { return celsius.Plus(celsiusZero) }

// compute finds the target to many more digits than are kept.
func (c Curve) compute(celsius Decimal, i int) Decimal {
	a, b := c.points[i-1], c.points[i]
	// 1/T runs from 1/Ta to 1/Tb; the share of that way is (T−Ta)·Tb / ((Tb−Ta)·T).
	t, tb := kelvin(celsius), kelvin(b.At)
	w := apd.BaseContext.WithPrecision(curveWork)
	share, first, ln := new(apd.Decimal), new(apd.Decimal), new(apd.Decimal)
	must(w.Quo(share, celsius.Minus(a.At).Times(tb).value(), b.At.Minus(a.At).Times(t).value()))
	must(w.Ln(first, a.Value.value()))
	must(w.Ln(ln, b.Value.value()))
	must(w.Sub(ln, ln, first))
	must(w.Mul(ln, ln, share))
	must(w.Add(ln, ln, first))
	must(w.Exp(ln, ln))
	return Decimal{ln}.significant(curveTrusted).Round(4)
}

func must(_ apd.Condition, err error) {
	if err != nil {
		panic("measure: " + err.Error())
	}
}
