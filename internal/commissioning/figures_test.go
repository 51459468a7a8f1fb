package commissioning_test

import (
	"errors"
	"strings"
	"testing"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

func TestFigures(t *testing.T) {
	sheet := "data sheet of 2026-01-05"
	t.Run("what is not filled in is not there", func(t *testing.T) {
		got, err := commissioning.Figures{
			commissioning.Density: {Value: " 0.805 ", Source: " " + sheet}, commissioning.LEL: {},
		}.Checked()
		if err != nil || len(got) != 1 || got[commissioning.Density] != (commissioning.Figure{Value: "0.805", Source: sheet}) {
			t.Errorf("%v, %v", got, err)
		}
		if d, known := got.Number(commissioning.Density); !known || d != 0.805 {
			t.Errorf("%v %v", d, known)
		}
		if _, known := got.Number(commissioning.LEL); known {
			t.Error("an empty figure has a number")
		}
		if got.Words() != "density 0.805 g/mL ("+sheet+")" {
			t.Error(got.Words())
		}
	})
	for name, c := range map[string]struct {
		key, value, source, field string
	}{
		"a number without its source is refused": {commissioning.Density, "0.805", "", "density_source"},
		"a source without its number is refused": {commissioning.LEL, "", sheet, "lel"},
		"words are no number":                    {commissioning.Limit, "low", sheet, "limit"},
		"a comma is no point":                    {commissioning.Density, "0,805", sheet, "density"},
		"a density in another unit is refused":   {commissioning.Density, "805", sheet, "density"},
		"a limit in ppm is no share of volume":   {commissioning.LEL, "14000", sheet, "lel"},
		"nothing is less than nothing":           {commissioning.Thickness, "-0.4", sheet, "viscosity"},
		"a source is no essay":                   {commissioning.MolarMass, "72.1", strings.Repeat("x", 201), "molar_mass_source"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := commissioning.Figures{c.key: {Value: c.value, Source: c.source}}.Checked()
			var p *problem.Error
			if !errors.As(err, &p) || p.Field != c.field {
				t.Errorf("%v, wants the field %q", err, c.field)
			}
		})
	}
}
