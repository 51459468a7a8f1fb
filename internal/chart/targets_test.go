package chart_test

import (
	"math"
	"strings"
	"testing"

	"settlemark/internal/chart"
	"settlemark/internal/measure"
	"settlemark/internal/words"
)

func aims(pairs ...string) []measure.Point {
	var points []measure.Point
	for i := 0; i < len(pairs); i += 2 {
		points = append(points, measure.Point{At: measure.Must(pairs[i]), Value: measure.Must(pairs[i+1])})
	}
	return points
}

func TestTargets(t *testing.T) {
	tenPercent := func(target measure.Decimal) measure.Limits { return measure.WithinPercent(target, measure.Must("10")) }
	ink := chart.Targets(words.English, "Target by temperature", "mPa·s", aims("15", "5.10", "25", "4.20", "35", "3.60"), tenPercent, 460, 220)
	for name, c := range map[string]chart.Chart{
		"targets":      ink,
		"targets-bare": chart.Targets(words.English, "Target", "mPa·s", aims("10", "4", "20", "4"), nil, 460, 220),
		"targets-many": chart.Targets(words.English, "Target", "mPa·s", aims("0", "9.9", "0.5", "9.8", "1", "9.7", "1.5", "9.6", "2", "9.5", "40", "1.2"), tenPercent, 460, 220),
	} {
		t.Run(name, func(t *testing.T) {
			svg := c.Named("", name+"-").SVG()
			wellFormed(t, svg)
			golden(t, name+".svg", svg)
		})
	}
	t.Run("every_point_is_a_dot_with_its_value_and_lies_on_the_line", func(t *testing.T) {
		var dots []chart.Mark
		var line []chart.Tenth
		words := ""
		for _, m := range ink.Marks {
			switch m.Role {
			case chart.RolePoint:
				dots = append(dots, m)
			case chart.RoleTarget:
				line = m.Lines[0]
			}
			words += m.Text + " "
		}
		if len(dots) != 3 {
			t.Fatalf("%d dots", len(dots))
		}
		for _, d := range dots {
			on := false
			for i := 0; i+1 < len(line); i += 2 {
				on = on || line[i] == d.X && line[i+1] == d.Y
			}
			if !on {
				t.Errorf("the dot at %s, %s is not on the line", d.X, d.Y)
			}
		}
		for _, want := range []string{"5.10", "4.20", "3.60", "15", "25", "35", "mPa·s", "°C"} {
			if !strings.Contains(words, want) {
				t.Errorf("no %q among %q", want, words)
			}
		}
	})
	t.Run("the_line_bends_between_two_points_as_the_rules_do", func(t *testing.T) {
		for _, m := range ink.Marks {
			if m.Role != chart.RoleTarget {
				continue
			}
			l := m.Lines[0] // 20 °C is the ninth of 33 places: 4.6205, below the chord's 4.65
			chord := (l[1].Units() + l[33].Units()) / 2
			down := l[17].Units() - chord
			perUnit := (l[33].Units() - l[1].Units()) / 0.9
			if math.Abs(down/perUnit-0.0295) > 0.002 {
				t.Errorf("it hangs %v mPa·s below the chord", down/perUnit)
			}
		}
	})
}
