package measure

import (
	"math"
	"strconv"
)

// Conformance is the probability that the true value lies inside the limits
// when y was read with standard uncertainty u: Φ((upper−y)/u) − Φ((lower−y)/u)
// (JCGM 106:2012). With u = 0 it is 1 inside and 0 outside.
func Conformance(l Limits, y, u Decimal) float64 {
	if u.Sign() == 0 {
		if l.Hold(y) {
			return 1
		}
		return 0
	}
	return normalBetween(l.Lower.Minus(y).Over(u).Float(), l.Upper.Minus(y).Over(u).Float())
}

// normalBetween is Φ(b) − Φ(a) for a ≤ b. It subtracts small tails, never two
// numbers near one, and takes a narrow strip by its middle, so that 6 digits hold.
func normalBetween(a, b float64) float64 {
	if width := b - a; width < 1e-3 {
		m := (a + b) / 2
		density := math.Exp(-m*m/2) / math.Sqrt(2*math.Pi)
		return density * width * (1 + width*width*(m*m-1)/24)
	}
	switch {
	case a > 0:
		return tail(a) - tail(b)
	case b < 0:
		return tail(-b) - tail(-a)
	}
	return 1 - tail(-a) - tail(b)
}

// tail is 1 − Φ(z).
func tail(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }

// Significant rounds to 6 significant digits, as fits and probabilities are printed.
func Significant(x float64) float64 {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 5, 64), 64)
	return rounded
}
