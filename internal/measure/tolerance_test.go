package measure_test

import (
	"math"
	"testing"

	"settlemark/internal/measure"
)

func TestLimits(t *testing.T) {
	d := measure.Must
	l := measure.WithinPercent(d("4.50"), d("10"))
	for value, inside := range map[string]bool{"4.95": true, "4.9500001": false, "4.05": true, "4.0499999": false, "4.5": true} {
		t.Run("4.50 ± 10 % and "+value, func(t *testing.T) {
			if l.Hold(d(value)) != inside {
				t.Error(l.Lower, l.Upper)
			}
		})
	}
	t.Run("percent limits are exact", func(t *testing.T) {
		if l := measure.WithinPercent(d("0.33"), d("0.1")); l.Lower.String() != "0.32967" || l.Upper.String() != "0.33033" {
			t.Error(l.Lower, l.Upper)
		}
	})
	t.Run("absolute limits are exact", func(t *testing.T) {
		if l := measure.WithinAbsolute(d("4.50"), d("0.4")); l.Lower.String() != "4.1" || l.Upper.String() != "4.9" {
			t.Error(l.Lower, l.Upper)
		}
	})
	t.Run("a guard band draws both limits in", func(t *testing.T) {
		if g := l.Guarded(d("0.1")); g.Lower.String() != "4.15" || g.Upper.String() != "4.85" {
			t.Error(g.Lower, g.Upper)
		}
	})
	t.Run("a guard band wider than the tolerance leaves nothing", func(t *testing.T) {
		if l.Guarded(d("0.5")).Hold(d("4.50")) {
			t.Error("4.50 is inside")
		}
	})
}

func TestDeviation(t *testing.T) {
	for value, want := range map[string]string{"4.62": "2.67", "4.50": "0.00", "4.05": "-10.00", "4.500225": "0.00", "4.500675": "0.02", "4.4999": "0.00"} {
		t.Run(value, func(t *testing.T) {
			if got := measure.Deviation(measure.Must(value), measure.Must("4.50")).String(); got != want {
				t.Errorf("%s, want %s", got, want)
			}
		})
	}
}

// Examples of JCGM 106:2012 as remembered (7.3, examples 1 and 2); each
// probability was computed again apart from this program. A limit on one side
// only has its other end far away.
func TestConformance(t *testing.T) {
	for _, c := range []struct {
		name, lower, upper, y, u string
		want                     float64
	}{
		{"breakdown voltage of a Zener diode, upper limit", "-1000", "-5.40", "-5.47", "0.05", 0.919243},
		{"burst pressure of a container, lower limit", "490", "100000", "509.7", "8.6", 0.989010},
		{"on the limit", "4.05", "4.95", "4.95", "0.045", 0.5},
		{"2 u inside: 1 − 0.022750 (ILAC-G8, r = 1)", "0", "1000", "2", "1", 0.977250},
		{"2 u outside", "0", "1000", "-2", "1", 0.0227501},
		// Φ(−10) = 7.61985e-24 (from memory; tables of the normal distribution).
		{"far outside below", "0", "1000", "-10", "1", 7.61985e-24},
		{"far outside above", "-1000", "0", "10", "1", 7.61985e-24},
		{"in the middle of ± 3 u", "-3", "3", "0", "1", 0.997300},
		{"a strip much narrower than u is density times width", "-0.00001", "0.00001", "0", "1", 7.97885e-06},
		{"no uncertainty, inside", "1", "2", "2", "0", 1},
		{"no uncertainty, outside", "1", "2", "2.0001", "0", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := measure.Within(measure.Must(c.lower), measure.Must(c.upper))
			got := measure.Significant(measure.Conformance(l, measure.Must(c.y), measure.Must(c.u)))
			if math.Abs(got-c.want) > 1e-12*c.want {
				t.Errorf("%v, want %v", got, c.want)
			}
		})
	}
}

func TestSignificant(t *testing.T) {
	for x, want := range map[float64]float64{0.99990012: 0.9999, 1.0 / 3: 0.333333, 2e-9 / 3: 6.66667e-10, 0: 0, 1: 1} {
		if got := measure.Significant(x); got != want {
			t.Errorf("%v, want %v", got, want)
		}
	}
}
