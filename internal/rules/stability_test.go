package rules_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"settlemark/internal/rules"
)

// steady gives good readings of both conditions every third minute.
func steady(n int, v func(minute float64) float64) string {
	var lines strings.Builder
	lines.WriteString("08:00 start\n")
	for i := range n {
		clock := fmt.Sprintf("%02d:%02d", 8+3*i/60, 3*i%60)
		fmt.Fprintf(&lines, "%s ready yes\n%s viscosity %.3f\n", clock, clock, v(float64(3*i)))
	}
	return lines.String()
}

func TestStability(t *testing.T) {
	noise := func(minute float64) float64 { return 0.004 * math.Sin(minute*minute) }
	for _, c := range []struct {
		name  string
		lines string
		state string
		slope float64 // per hour
	}{
		{"in tolerance and drifting up", steady(15, func(m float64) float64 { return 4.4 + 0.04*m/60 + noise(m) }), rules.Drifting, 0.04},
		{"in tolerance and drifting down", steady(15, func(m float64) float64 { return 4.6 - 0.2*m/60 + noise(m) }), rules.Drifting, -0.2},
		{"no drift is seen in noise", steady(15, func(m float64) float64 { return 4.5 + noise(m) }), rules.Steady, 0},
		{"a constant reading is steady", steady(12, func(float64) float64 { return 4.5 }), rules.Steady, 0},
		{"three points are not enough", steady(3, func(m float64) float64 { return 4.5 + m/100 }), rules.TooFew, 0},
		{"a late reading takes no part", steady(3, func(m float64) float64 { return 4.5 + m/100 }) + "08:05 viscosity 4.54 captured_at=08:30\nat 08:06", rules.TooFew, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			book := bookOf(t, bench, c.lines)
			all := rules.Examine(book, book.At).Stability(book.Procedure.Gates.Hold)
			if len(all) != 1 || all[0].Quantity.Key != "viscosity" {
				t.Fatalf("%+v", all)
			}
			s := all[0]
			if s.State != c.state || math.Abs(s.PerHour-c.slope) > 0.02 {
				t.Errorf("%s, %.3f an hour, wants %s, %.3f", s.State, s.PerHour, c.state, c.slope)
			}
			if s.State == rules.Drifting && !(s.Bounded && s.Lowest <= s.PerHour && s.PerHour <= s.Utmost && s.Lowest*s.Utmost > 0) {
				t.Errorf("%.3f to %.3f an hour", s.Lowest, s.Utmost)
			}
		})
	}
	t.Run("only the hold that is reported is looked at", func(t *testing.T) {
		book := bookOf(t, bench, "07:00 viscosity 4.9\n"+steady(12, func(float64) float64 { return 4.5 }))
		if s := rules.Examine(book, book.At).Stability(book.Procedure.Gates.Hold); s[0].Individuals.N != 12 {
			t.Errorf("%d readings", s[0].Individuals.N)
		}
	})
	t.Run("without a hold there is nothing to say", func(t *testing.T) {
		book := bookOf(t, bench, "08:00 start")
		if s := rules.Examine(book, book.At).Stability(book.Procedure.Gates.Hold); s != nil {
			t.Errorf("%+v", s)
		}
	})
	t.Run("a long hold is thinned, not dropped", func(t *testing.T) {
		var lines strings.Builder
		lines.WriteString("08:00:00 start\n")
		for i := range 1001 {
			clock := fmt.Sprintf("%02d:%02d:%02d", 8+i*5/3600, i*5/60%60, i*5%60)
			fmt.Fprintf(&lines, "%s ready yes\n%s viscosity %.4f\n", clock, clock, 4.4+float64(i)*5/3600*0.1)
		}
		book := bookOf(t, bench, lines.String())
		s := rules.Examine(book, book.At).Stability(book.Procedure.Gates.Hold)[0]
		if s.Individuals.N != 1001 || s.Trend.N > 200 || s.Trend.N < 150 || math.Abs(s.PerHour-0.1) > 0.001 {
			t.Errorf("%d and %d readings, %.4f an hour", s.Individuals.N, s.Trend.N, s.PerHour)
		}
	})
}
