package measure_test

import (
	"math"
	"testing"

	"settlemark/internal/measure"
)

// check is an estimate held against a published or recomputed number.
type check struct {
	name string
	got  func() (float64, bool)
	want float64
	off  float64 // largest share by which it may differ
}

func (c check) run(t *testing.T) {
	t.Run(c.name, func(t *testing.T) {
		got, ok := c.got()
		if !ok || math.Abs(got-c.want) > c.off*math.Abs(c.want) {
			t.Errorf("%v %v, want %v within %v of it", got, ok, c.want, c.off)
		}
	})
}

// refusals are inputs for which a formula does not hold.
func refusals(t *testing.T, all map[string]func() (float64, bool)) {
	t.Helper()
	for name, do := range all {
		t.Run("refuses "+name, func(t *testing.T) {
			if got, ok := do(); ok {
				t.Errorf("gave %v", got)
			}
		})
	}
}

func rinses(n int, left, added float64) func() (float64, bool) {
	return func() (float64, bool) {
		flushes := make([]measure.Flush, n)
		for i := range flushes {
			flushes[i] = measure.Flush{Left: left, Added: added}
		}
		return measure.Residual(flushes...)
	}
}

// The washing formula of textbooks (from memory); each number was computed
// again apart from this program.
func TestResidual(t *testing.T) {
	for _, c := range []check{
		{"one flush of 600 into 50", rinses(1, 50, 600), 0.0769231, 1e-6},
		{"three of 200 into 50", rinses(3, 50, 200), 0.008, 1e-12},
		{"six of 100 into 50", rinses(6, 50, 100), 0.00137174, 1e-5},
		{"five of 200 into 50", rinses(5, 50, 200), 0.00032, 1e-12},
		{"nothing flushed yet", rinses(0, 0, 0), 1, 0},
		{"many small ones come near exp(−12)", rinses(1_000_000, 50, 600e-6), 6.144e-6, 1e-3},
		{"flushes may differ", func() (float64, bool) {
			return measure.Residual(measure.Flush{Left: 50, Added: 200}, measure.Flush{Left: 100, Added: 100})
		}, 0.1, 1e-12},
		{"a circuit that drains dry", rinses(1, 0, 200), 0, 0},
	} {
		c.run(t)
	}
	refusals(t, map[string]func() (float64, bool){
		"less than nothing left": rinses(1, -1, 200), "less than nothing added": rinses(1, 50, -1),
		"nothing at all": rinses(1, 0, 0), "no number": rinses(1, math.NaN(), 200), "no end": rinses(1, 50, math.Inf(1)),
	})
}

func share(from, to, makeUp float64) func() (float64, bool) {
	return func() (float64, bool) { return measure.MakeUpShare(from, to, makeUp) }
}

// Logarithmic mixing; numbers computed again apart from this program.
func TestMakeUp(t *testing.T) {
	for _, c := range []check{
		{"from 4.6 to 4.2 with 0.40", share(4.6, 4.2, 0.40), 0.0372477, 1e-6},
		{"the blend of 60 % of 5 and 40 % of 20 is 8.7055056", share(20, 8.7055056, 5), 0.6, 1e-7},
		{"and one litre takes its share over the rest", func() (float64, bool) {
			return measure.MakeUpToAdd(1000, 4.6, 4.2, 0.40)
		}, 38.6887, 1e-5},
	} {
		c.run(t)
	}
	refusals(t, map[string]func() (float64, bool){
		"a target above what is there": share(4.2, 4.6, 0.4), "a target that is met": share(4.2, 4.2, 0.4),
		"a make-up as thick as the target": share(4.6, 0.4, 0.4), "a viscosity of zero": share(4.6, 4.2, 0), "no number": share(math.NaN(), 4.2, 0.4),
		"no volume": func() (float64, bool) { return measure.MakeUpToAdd(0, 4.6, 4.2, 0.4) },
	})
}

func litres(ml, density, molar float64) func() (float64, bool) {
	return func() (float64, bool) { return measure.VapourLitres(ml, density, molar) }
}

// Vapour of one millilitre, computed again apart from this program with
// 24.4654 L/mol: 0.06 % above the 24.45 used here. Densities at 20 °C and molar
// masses are those of the NIOSH Pocket Guide (from memory) to one digit more.
func TestVapour(t *testing.T) {
	mg := func(ppm, molar float64) func() (float64, bool) {
		return func() (float64, bool) { return measure.MilligramsPerCubicMetre(ppm, molar) }
	}
	for _, c := range []check{
		{"1 mL of butanone", litres(1, 0.805, 72.11), 0.27312, 7e-4},
		{"1 mL of acetone", litres(1, 0.791, 58.08), 0.33319, 7e-4},
		{"1 mL of ethanol", litres(1, 0.789, 46.07), 0.41899, 7e-4},
		{"100 L of vapour in 50 m³", func() (float64, bool) { return measure.ClosedRoom(100, 50) }, 2000, 1e-12},
		// 1 mL of butanone needs 0.195 m³ to stay at 10 % of the explosive limit of 1.4 % (computed again apart).
		{"a tenth of the explosive limit", func() (float64, bool) {
			l, _ := measure.VapourLitres(1, 0.805, 72.11)
			ppm, _ := measure.ClosedRoom(l, 0.195)
			return measure.ShareOfLEL(ppm, 1.4)
		}, 0.1, 2e-3},
		{"a share of an exposure limit", func() (float64, bool) { return measure.ShareOf(546, 200) }, 2.73, 1e-12},
		// CDC NIOSH pages of butanone, ethanol and acetone, which round to 590, 1900 and 590.
		{"200 ppm of butanone are 590 mg/m³", mg(200, 72.1), 590, 1e-3},
		{"1000 ppm of ethanol are 1900 mg/m³", mg(1000, 46.1), 1900, 1e-2},
		{"250 ppm of acetone are 590 mg/m³", mg(250, 58.1), 590, 1e-2},
		{"1 ppm of butanone is 2.95 mg/m³", mg(1, 72.1), 2.9489, 1e-4},
	} {
		c.run(t)
	}
	refusals(t, map[string]func() (float64, bool){
		"no liquid": litres(0, 0.8, 72), "no density": litres(1, 0, 72), "no molar mass": litres(1, 0.8, 0),
		"more vapour than room": func() (float64, bool) { return measure.ClosedRoom(1001, 1) },
		"no room":               func() (float64, bool) { return measure.ClosedRoom(1, 0) },
		"no limit":              func() (float64, bool) { return measure.ShareOf(1, 0) },
		"no molar mass for mg":  mg(1, 0),
	})
}

func air(litresPerHour, ppm, mixing float64) func() (float64, bool) {
	return func() (float64, bool) { return measure.DilutionAir(litresPerHour, ppm, mixing) }
}

// Industrial Ventilation, examples (inputs from memory, arithmetic computed
// again apart): pints per hour and cubic feet per minute at 70 °F, where a mole
// takes 387/359·22.414 = 24.16 L.
func TestDilutionAir(t *testing.T) {
	cfm := func(pintsPerHour, density, molar, ppm, mixing float64) func() (float64, bool) {
		return func() (float64, bool) {
			l, _ := measure.VapourLitres(pintsPerHour*473.176, density, molar)
			q, ok := measure.DilutionAir(l*24.16/measure.MolarVolume, ppm, mixing)
			return q / 1.69901, ok
		}
	}
	for _, c := range []check{
		{"methyl chloroform, mixed perfectly", cfm(1.5, 1.32, 133.4, 350, 1), 284.84, 5e-3},
		{"methyl chloroform, mixing factor 5", cfm(1.5, 1.32, 133.4, 350, 5), 1424, 5e-3},
		{"butanone, mixing factor 4", cfm(2, 0.805, 72.1, 200, 4), 2999.68, 5e-3},
		{"toluene, mixing factor 5", cfm(2, 0.866, 92.13, 100, 5), 6313.51, 5e-3},
		{"100 mL of butanone an hour, metric", air(27.3115, 200, 1), 136.56, 1e-4},
	} {
		c.run(t)
	}
	refusals(t, map[string]func() (float64, bool){
		"a mixing factor below 1": air(27, 200, 0.9), "one above 10": air(27, 200, 10.1),
		"no source": air(0, 200, 1), "no limit": air(27, 0, 1), "no number": air(27, 200, math.NaN()),
	})
}
