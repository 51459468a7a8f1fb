package rules_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"settlemark/internal/rules"
)

// readings are viscosities every third minute from a minute after 08:00 on,
// read to two digits like a display's.
func readings(from, n int, v func(minute float64) float64) string {
	var lines strings.Builder
	for i := range n {
		minute := from + 3*i
		fmt.Fprintf(&lines, "%02d:%02d viscosity %.2f\n", 8+minute/60, minute%60, v(float64(3*i)))
	}
	return lines.String()
}

func toward(c, a, tauMinutes float64) func(float64) float64 {
	return func(minute float64) float64 { return c + a*math.Exp(-minute/tauMinutes) }
}

func forecastOf(t *testing.T, procedure, lines string) rules.Forecast {
	t.Helper()
	book := bookOf(t, procedure, lines)
	return rules.Examine(book, book.At).Forecast("viscosity")
}

func TestForecast(t *testing.T) {
	settling := readings(0, 8, toward(4.51, 1.2, 25))
	curve := with(bench, `target: {value: "4.50"}`, `target: {by: temperature, curve: [{at: "15", value: "5.10"}, {at: "25", value: "4.20"}]}`)
	guarded := with(bench, `tolerance: {percent: "10"}`, `tolerance: {percent: "10"}, uncertainty: {percent: "2"}, decision: guarded`)
	for _, c := range []struct {
		name, procedure, lines, state string
		used                          int
	}{
		{"a curve toward the band settles", bench, "08:00 start\n" + settling, rules.Settling, 8},
		{"from below as well", bench, "08:00 start\n" + readings(0, 8, toward(4.4, -1.5, 25)), rules.Settling, 8},
		{"a curve toward a value outside will not settle", bench, "08:00 start\n" + readings(0, 12, toward(5.3, 1.2, 12)), rules.WillNotSettle, 12},
		{"a good latest reading is in tolerance", bench, "08:00 start\n08:05 viscosity 4.60", rules.InTolerance, 1},
		{"a late bad reading after a good one is not", bench, "08:00 start\n08:05 viscosity 4.60\n08:06 viscosity 5.60 captured_at=08:30", rules.Unclear, 1},
		{"a late good reading shows nothing", bench, "08:00 start\n08:05 viscosity 5.60\n08:06 viscosity 4.60 captured_at=08:30", rules.Unclear, 1},
		{"a late reading that was accepted counts", bench, "08:00 start\n08:05 viscosity 5.60\n08:06 viscosity 4.60 captured_at=08:30\n09:00 accept 3", rules.InTolerance, 2},
		{"a struck reading has no part", bench, "08:00 start\n" + settling + "08:22 viscosity 9\n08:23 strike 10", rules.Settling, 8},
		{"four readings are too few", bench, "08:00 start\n" + readings(0, 4, toward(4.51, 1.2, 25)), rules.Unclear, 4},
		{"less than ten minutes are too short", bench, "08:00 viscosity 5.7\n08:02 viscosity 5.6\n08:04 viscosity 5.52\n08:06 viscosity 5.45\n08:08 viscosity 5.4", rules.Unclear, 5},
		{"a start makes all before it nothing", bench, settling + "08:21:30 start\n08:22 viscosity 5.02", rules.Unclear, 1},
		{"so does a load", bench, settling + "08:21:30 load - ink K-20 L77 2027-01-31 100\n08:22 viscosity 5.02", rules.Unclear, 1},
		{"so does a cleared fault", bench, settling + "08:21:10 fault pressure\n08:21:30 cleared 9\n08:22 viscosity 5.02", rules.Unclear, 1},
		{"a reading at the instant of the start is after it", bench, "08:00 start\n08:00 viscosity 4.5", rules.InTolerance, 1},
		{"five readings in a line are unclear", bench, readings(0, 5, func(m float64) float64 { return 5.9 - m/50 }), rules.Unclear, 5},
		{"constant readings outside are unclear", bench, readings(0, 9, func(float64) float64 { return 5.5 }), rules.Unclear, 9},
		{"readings that rise are unclear", bench, readings(0, 9, func(m float64) float64 { return 5.1 + m/50 }), rules.Unclear, 9},
		{"two clusters are unclear", bench, readings(0, 3, func(float64) float64 { return 5.6 }) + readings(30, 3, func(float64) float64 { return 5.2 }), rules.Unclear, 6},
		{"noise is unclear", bench, readings(0, 9, func(m float64) float64 { return 5.3 + 0.1*math.Sin(m*m) }), rules.Unclear, 9},
		{"a curve as target takes the newest limits", curve, "08:00 temperature 15\n08:20 temperature 25\n" + settling, rules.Settling, 8},
		{"and would not settle by those of another temperature", curve, "08:00 temperature 15\n08:20 temperature 25\n" + readings(0, 12, toward(5.1, 1.5, 9)), rules.WillNotSettle, 12},
		{"nothing read is unclear", bench, "08:00 start", rules.Unclear, 0},
		{"a guard band draws the limits in", guarded, readings(0, 16, toward(4.90, 1.2, 9)), rules.WillNotSettle, 16},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := forecastOf(t, c.procedure, c.lines)
			if f.State != c.state || f.Used != c.used {
				t.Errorf("%s of %d readings, wants %s of %d", f.State, f.Used, c.state, c.used)
			}
			if (f.Enters != nil) != (f.State == rules.Settling) {
				t.Errorf("%s enters at %v", f.State, f.Enters)
			}
			if f.State == rules.WillNotSettle && f.Asymptote == nil {
				t.Error("it does not say where it is heading")
			}
		})
	}
	t.Run("the instant is that of the curve, between its bounds", func(t *testing.T) {
		f := forecastOf(t, bench, "08:00 start\n"+readings(0, 6, toward(4.51, 1.2, 25)))
		// 4.51 + 1.2·exp(−t/25 min) = 4.95 at t = 25·ln(1.2/0.44) = 25.08 min, by hand.
		want := time.Date(2026, 3, 4, 8, 25, 5, 0, time.UTC)
		if f.Enters == nil || f.Earliest == nil || f.Latest == nil || f.Enters.Sub(want).Abs() > time.Minute ||
			f.Earliest.After(*f.Enters) || f.Latest.Before(*f.Enters) || f.Earliest.After(want) || f.Latest.Before(want) {
			t.Errorf("%v, %v to %v", f.Enters, f.Earliest, f.Latest)
		}
	})
	t.Run("it is one more key, and decides nothing", func(t *testing.T) {
		book := bookOf(t, bench, "08:00 start\n"+readings(0, 8, toward(4.51, 1.2, 25)))
		x := rules.Examine(book, book.At)
		plain, more := string(rules.Encode(x.Assessment)), string(rules.EncodeForecast(x.Assessment, x.Forecast("viscosity")))
		start := strings.TrimSuffix(plain, "}\n") + `,"forecast":{"state":"settling","asymptote":4.`
		if !strings.HasPrefix(more, start) || !strings.Contains(more, `"readings_used":8}}`) {
			t.Error(more)
		}
	})
}
