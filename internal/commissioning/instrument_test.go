package commissioning_test

import (
	"errors"
	"testing"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

var spindle = commissioning.Instrument{
	Site: 1, Code: "V-12", Name: "Rotational viscometer", Serial: "88 102", Quantity: "viscosity", Uncertainty: "0.05", Unit: "mPa.s", K: "2", Due: "2026-11-30",
}

func TestInstrument(t *testing.T) {
	t.Run("the due day itself still counts, in the time of the site", func(t *testing.T) {
		halifax, err := time.LoadLocation("America/Halifax")
		if err != nil {
			t.Fatal(err)
		}
		for at, overdue := range map[string]bool{"2026-11-30T23:59:59-04:00": false, "2026-12-01T00:00:00-04:00": true, "2026-12-01T01:00:00Z": false} {
			instant, err := time.Parse(time.RFC3339, at)
			if err != nil || spindle.Overdue(instant, halifax) != overdue {
				t.Errorf("%s: %v, wants %v", at, !overdue, overdue)
			}
		}
	})
	t.Run("blanks around words are cut off", func(t *testing.T) {
		i := spindle
		i.Code, i.Unit = " V-12 ", commissioning.PercentOfValue
		if got, err := i.Checked(); err != nil || got.Code != "V-12" {
			t.Errorf("%v, %v", got, err)
		}
	})
	t.Run("its uncertainty in words", func(t *testing.T) {
		percent := spindle
		percent.Unit = commissioning.PercentOfValue
		if spindle.UncertaintyInWords().String() != "0.05 mPa.s, k = 2" || percent.UncertaintyInWords().String() != "0.05 % of the value, k = 2" {
			t.Errorf("%q and %q", spindle.UncertaintyInWords(), percent.UncertaintyInWords())
		}
	})
	for field, spoil := range map[string]func(*commissioning.Instrument){
		"code":        func(i *commissioning.Instrument) { i.Code = " " },
		"name":        func(i *commissioning.Instrument) { i.Name = "" },
		"serial":      func(i *commissioning.Instrument) { i.Serial = "" },
		"quantity":    func(i *commissioning.Instrument) { i.Quantity, i.Unit = "colour", "%" },
		"unit":        func(i *commissioning.Instrument) { i.Unit = "kPa" },
		"uncertainty": func(i *commissioning.Instrument) { i.Uncertainty = "0" },
		"k":           func(i *commissioning.Instrument) { i.K = "two" },
		"due":         func(i *commissioning.Instrument) { i.Due = "30.11.2026" },
	} {
		t.Run("a wrong "+field+" is refused by its name", func(t *testing.T) {
			i := spindle
			spoil(&i)
			_, err := i.Checked()
			var p *problem.Error
			if !errors.As(err, &p) || p.Field != field {
				t.Errorf("%v", err)
			}
		})
	}
}
