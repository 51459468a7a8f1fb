package measure_test

import (
	"errors"
	"math"
	"testing"

	"settlemark/internal/measure"
)

func cup(t *testing.T, key string) measure.Cup {
	t.Helper()
	c, ok := measure.CupOf(key)
	if !ok {
		t.Fatalf("no cup %q", key)
	}
	return c
}

// Worked values of a public cup calculator that credits ASTM D4212 and ISO 2431,
// each computed again apart from this program.
func TestCup(t *testing.T) {
	for _, c := range []struct {
		key           string
		seconds, want float64
	}{
		{"iso-3", 57, 21.7422},
		{"iso-3", 30, 6.6233},
		{"iso-3", 100, 42.3},
		{"iso-4", 60, 78.8667},
		{"iso-4", 30, 34.4333},
		{"iso-4", 100, 135.0},
		{"iso-5", 60, 193.1333},
		{"iso-5", 30, 91.0667},
		{"iso-5", 100, 325.8},
		{"iso-6", 60, 404.5},
		{"iso-6", 30, 188.0},
		{"iso-6", 100, 684.3},
		{"zahn-2", 35, 73.5},
		{"zahn-1", 40, 12.1},
		{"zahn-5", 40, 920},
		{"shell-2.5", 55, 48.1},
	} {
		got, err := cup(t, c.key).Kinematic(c.seconds)
		if err != nil || math.Abs(got-c.want) > 5e-5+1e-12*c.want {
			t.Errorf("%s at %v s: %v %v, want %v", c.key, c.seconds, got, err, c.want)
		}
	}
	t.Run("the ranges of ISO 2431 are those of its four cups", func(t *testing.T) { // 7–42, 34–135, 91–326, 188–684 mm²/s (from memory)
		for key, want := range map[string][2]float64{"iso-3": {7, 42}, "iso-4": {34, 135}, "iso-5": {91, 326}, "iso-6": {188, 684}} {
			least, most := cup(t, key).Span()
			if math.Round(least) != want[0] || math.Round(most) != want[1] {
				t.Errorf("%s spans %v to %v", key, least, most)
			}
		}
	})
	t.Run("a time below the range is a fluid too thin, not a number", func(t *testing.T) {
		// By the bare formula Zahn 1 at 20 s would be −9.9 mm²/s.
		for _, c := range measure.Cups {
			for _, seconds := range []float64{20 - 1e-9, c.Least - 0.1, 1} {
				if seconds >= c.Least {
					continue
				}
				if got, err := c.Kinematic(seconds); !errors.Is(err, measure.ErrTooThin) || got != 0 {
					t.Errorf("%s at %v s: %v %v", c.Key, seconds, got, err)
				}
			}
		}
	})
	t.Run("a time above the range is a fluid too thick", func(t *testing.T) {
		for _, c := range measure.Cups {
			if got, err := c.Kinematic(c.Most + 0.1); !errors.Is(err, measure.ErrTooThick) || got != 0 {
				t.Errorf("%s: %v %v", c.Key, got, err)
			}
		}
	})
	t.Run("no time is refused", func(t *testing.T) {
		for _, seconds := range []float64{0, -40, math.NaN(), math.Inf(1)} {
			if _, err := cup(t, "iso-4").Kinematic(seconds); err == nil {
				t.Error(seconds)
			}
		}
	})
	t.Run("every cup rises with the time and begins above zero", func(t *testing.T) {
		for _, c := range measure.Cups {
			if least, most := c.Span(); least <= 0 || most <= least {
				t.Errorf("%s spans %v to %v", c.Key, least, most)
			}
		}
	})
	// IAPWS R12-08 with IAPWS-95 density at 20 °C: 1.003395 mm²/s are 1.001596 mPa·s.
	t.Run("dynamic viscosity needs the density", func(t *testing.T) {
		if got, ok := measure.Dynamic(1.003395, 0.998207); !ok || math.Abs(got-1.001596) > 2e-6 {
			t.Error(got, ok)
		}
		if _, ok := measure.Dynamic(21.7, 0); ok {
			t.Error("no density is taken")
		}
	})
}
