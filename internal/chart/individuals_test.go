package chart_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"settlemark/internal/chart"
	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
)

// steadiness is a hold with these readings so many hours after its beginning.
func steadiness(hours, values []float64) rules.Stability {
	last := time.Duration(hours[len(hours)-1] * float64(time.Hour))
	return rules.Stability{
		Quantity: commissioning.Quantity{Key: "viscosity", Label: "Ink viscosity", Unit: "mPa.s", MaxGap: commissioning.Duration{Text: "7m", D: 7 * time.Minute}},
		From:     at(0), To: at(0).Add(last), Hours: hours, Values: values, Individuals: measure.FindIndividuals(hours, values, 7.0/60),
	}
}

func every3(values ...float64) rules.Stability {
	hours := make([]float64, len(values))
	for i := range hours {
		hours[i] = float64(i) / 20
	}
	return steadiness(hours, values)
}

func TestIndividuals(t *testing.T) {
	o := chart.Options{Width: 520, Height: 300}
	// Flow rates of the NIST/SEMATECH e-Handbook, 6.3.2.2, with one far off at the end.
	nist := every3(49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1, 70)
	for name, s := range map[string]rules.Stability{
		"individuals": nist, "individuals-one": every3(4.5), "individuals-still": every3(4.5, 4.5, 4.5),
		"individuals-gap": steadiness([]float64{0, 0.05, 0.1, 0.4, 0.45}, []float64{4.4, 4.5, 4.4, 4.6, 4.5}),
	} {
		t.Run(name, func(t *testing.T) {
			svg := chart.Individuals(s, o).Named("", name+"-").SVG()
			wellFormed(t, svg)
			golden(t, name+".svg", svg)
		})
	}
	c := chart.Individuals(nist, o)
	t.Run("a reading and a range beyond their limits are drawn otherwise", func(t *testing.T) {
		if n, _ := roles(c, chart.RoleOut); n != 2 {
			t.Errorf("%d diamonds", n)
		}
		if n, _ := roles(c, chart.RolePoint); n != 10+9 {
			t.Errorf("%d dots", n)
		}
	})
	t.Run("no line and no range across a gap", func(t *testing.T) {
		gap := chart.Individuals(steadiness([]float64{0, 0.05, 0.1, 0.4, 0.45}, []float64{4.4, 4.5, 4.4, 4.6, 4.5}), o)
		if n, _ := roles(gap, chart.RoleLine); n != 3 {
			t.Errorf("%d lines", n)
		}
		if n, _ := roles(gap, chart.RoleBar); n != 3 {
			t.Errorf("%d ranges", n)
		}
	})
	t.Run("the story has its numbers", func(t *testing.T) {
		if !strings.Contains(c.Story, "11 readings about 52.55, 1 of them outside") {
			t.Error(c.Story)
		}
	})
	t.Run("nothing is drawn off the sheet", func(t *testing.T) {
		rapid.Check(t, func(rt *rapid.T) {
			values := rapid.SliceOfN(rapid.Float64Range(-1e3, 1e3), 1, 40).Draw(rt, "values")
			c := chart.Individuals(every3(values...), chart.Options{Width: rapid.Float64Range(300, 900).Draw(rt, "width"), Height: rapid.Float64Range(220, 500).Draw(rt, "height")})
			for _, m := range c.Marks {
				x0, y0, x1, y1 := extent(m)
				if x0 < -8 || y0 < -8 || x1 > c.Width.Units()+8 || y1 > c.Height.Units() || math.IsNaN(x0+y0+x1+y1) {
					rt.Fatalf("%+v on %s×%s", m, c.Width, c.Height)
				}
			}
		})
	})
}
