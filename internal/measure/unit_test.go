package measure_test

import (
	"testing"

	"pgregory.net/rapid"

	"settlemark/internal/measure"
)

func TestConvert(t *testing.T) {
	for _, c := range []struct{ value, from, to, want string }{
		{"4.50", "mPa.s", "mPa.s", "4.50"},
		{"4.50", "cP", "mPa.s", "4.50"}, // 1 cP = 1 mPa.s by definition
		{"0.0045", "Pa.s", "cP", "4.5"},
		{"4.5", "mPa.s", "Pa.s", "0.0045"},
		{"212", "degF", "degC", "100"}, // boiling point of water as both scales were defined; from memory
		{"-40", "degF", "degC", "-40"}, // where the scales meet; from memory
		{"25", "degC", "degF", "77"},
		{"0", "degC", "K", "273.15"}, // definition of the degree Celsius
		{"100", "degF", "degC", "37.7777777778"},
		{"1", "psi", "kPa", "6.894757293168361"},
		{"6.894757293168361", "kPa", "psi", "1"},
		{"3", "bar", "kPa", "300"},
		{"0.3", "MPa", "bar", "3"},
		{"0.4", "L", "mL", "400"},
		{"250", "mL", "L", "0.25"},
	} {
		t.Run(c.value+" "+c.from+" in "+c.to, func(t *testing.T) {
			got, ok := measure.Convert(measure.Must(c.value), c.from, c.to)
			if !ok || got.Shown() != c.want {
				t.Errorf("%s %v, want %s", got.Shown(), ok, c.want)
			}
		})
	}
	t.Run("a unit of another kind is refused", func(t *testing.T) {
		for _, pair := range [][2]string{{"kPa", "mPa.s"}, {"degC", "mL"}, {"cp", "cP"}, {"mPa.s", "parsec"}} {
			if _, ok := measure.Convert(measure.Whole(1), pair[0], pair[1]); ok {
				t.Error(pair)
			}
		}
	})
	t.Run("there and back is the same value", func(t *testing.T) {
		rapid.Check(t, func(t *rapid.T) {
			kind := rapid.SampledFrom([]measure.Kind{measure.Viscosity, measure.Temperature, measure.Pressure, measure.Volume}).Draw(t, "kind")
			units := measure.UnitsOf(kind)
			from, to := rapid.SampledFrom(units).Draw(t, "from"), rapid.SampledFrom(units).Draw(t, "to")
			value := measure.Must(decimals().Draw(t, "value"))
			there, _ := measure.Convert(value, from, to)
			back, ok := measure.Convert(there, to, from)
			if near := back.Minus(value).Abs(); !ok || near.Cmp(measure.Must("1e-50")) > 0 {
				t.Fatalf("%s %s in %s and back: %s", value, from, to, back)
			}
		})
	})
}

// A difference has no zero point: only the factor between the units counts.
func TestConvertDifference(t *testing.T) {
	for _, c := range []struct{ value, from, to, want string }{
		{"0.30", "K", "degC", "0.30"},
		{"0.54", "degF", "degC", "0.3"}, // 5/9, definition of the degree Fahrenheit
		{"0.3", "degC", "degF", "0.54"},
		{"0.01", "bar", "kPa", "1"},
		{"0.09", "cP", "mPa.s", "0.09"},
	} {
		t.Run(c.value+" "+c.from+" in "+c.to, func(t *testing.T) {
			if got, ok := measure.ConvertDifference(measure.Must(c.value), c.from, c.to); !ok || got.Shown() != c.want {
				t.Errorf("%s %v, want %s", got.Shown(), ok, c.want)
			}
		})
	}
	t.Run("a unit of another kind is refused", func(t *testing.T) {
		if _, ok := measure.ConvertDifference(measure.Whole(1), "K", "kPa"); ok {
			t.Error("was taken")
		}
	})
}

func TestUnitsOf(t *testing.T) {
	for kind, count := range map[measure.Kind]int{measure.Viscosity: 3, measure.Temperature: 3, measure.Pressure: 4, measure.Volume: 2} {
		if got := measure.UnitsOf(kind); len(got) != count {
			t.Errorf("%s: %v", kind, got)
		}
	}
}
