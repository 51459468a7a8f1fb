package measure_test

import (
	"math"
	"testing"

	"settlemark/internal/measure"
)

// A limit on one side only has its other end far away.
const far = "1000000"

// False acceptance at the edge of a guarded zone: w = r·U, U = 2u, so 1 − Φ(2r).
// The rules and their bounds are those of ILAC-G8:09/2019 (secondary) and ISO
// 14253-1:2017 (from memory); each number was computed again apart from this
// program.
func TestGuardBands(t *testing.T) {
	for _, c := range []struct {
		name, r string
		want    float64
	}{
		{"six sigma, below one in a million", "3", 9.86588e-10},
		{"three sigma, below 0.16 %", "1.5", 0.00134990},
		{"ILAC-G8, below 2.5 %", "1", 0.0227501},
		{"ISO 14253-1, below 5 %", "0.83", 0.0484572},
		{"simple acceptance, one half", "0", 0.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			// U = 2, so u = 1; the upper limit is 0 and the reading lies on the guarded edge.
			guard := measure.Must(c.r).Times(measure.Must("2"))
			edge := measure.Within(measure.Must("-"+far), measure.Must("0")).Guarded(guard).Upper
			conforms := measure.Conformance(measure.Within(measure.Must("0"), measure.Must(far)), edge, measure.Must("1"))
			if got := measure.Significant(conforms); math.Abs(got-c.want) > 5e-6*c.want {
				t.Errorf("%v, want %v", got, c.want)
			}
		})
	}
}

// How far inside a limit 95 % are reached when the tolerance is wide or narrow
// against u; computed again apart from this program. Below about 4 u there is no
// place at all: the best is the middle.
func TestNarrowTolerance(t *testing.T) {
	for _, c := range []struct{ name, width, y, want string }{
		{"ten u wide, 1.644854 u inside", "10", "8.355146", "0.95"},
		{"five u wide, 1.648767 u inside", "5", "3.351233", "0.95"},
		{"four u wide, 1.796213 u inside", "4", "2.203787", "0.95"},
		{"three u wide, the middle gives no more", "3", "1.5", "0.866386"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := measure.Conformance(measure.Within(measure.Must("0"), measure.Must(c.width)), measure.Must(c.y), measure.Must("1"))
			if math.Abs(got-measure.Must(c.want).Float()) > 1e-6 {
				t.Errorf("%v, want %s", got, c.want)
			}
		})
	}
	// JCGM 106:2012, 8.3.3 (from memory): 100 km/h, relative u 2 %, rejected only
	// where p ≥ 0.999: from 106.588 km/h on, with u 2 % of the value read.
	t.Run("a speed limit with guarded rejection", func(t *testing.T) {
		over := measure.Within(measure.Must("100"), measure.Must(far))
		at := func(v string) float64 {
			y := measure.Must(v)
			return measure.Conformance(over, y, measure.PercentOf(y, measure.Must("2")))
		}
		if at("106.587") >= 0.999 || at("106.589") < 0.999 {
			t.Errorf("%v and %v", at("106.587"), at("106.589"))
		}
	})
}
