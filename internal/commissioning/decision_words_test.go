package commissioning_test

import (
	"testing"

	"settlemark/internal/commissioning"
)

func TestDecisionInWords(t *testing.T) {
	for want, q := range map[string]commissioning.Quantity{
		"simple acceptance: in when inside the limits, both limits in; uncertainty is not taken off": {},
		"guarded acceptance: in when inside the limits by 1 times the expanded uncertainty":          {Decision: commissioning.Guarded},
		"guarded acceptance: in when inside the limits by 0.83 times the expanded uncertainty":       {Decision: commissioning.Guarded, GuardFactor: "0.83"},
	} {
		if got := q.DecisionInWords().String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	for want, u := range map[string]commissioning.Uncertainty{
		"instrument's expanded uncertainty 2 % of the value, k = 2": {Percent: "2"},
		"instrument's expanded uncertainty 0.1 mPa·s, k = 3":        {Absolute: "0.1", K: "3"},
	} {
		if got := u.InWords("mPa·s").String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestProbabilityIsNeverCalledCertain(t *testing.T) {
	for p, want := range map[float64]string{
		1: "over 0.99999", 0.999991: "over 0.99999", 0.99999: "0.99999", 0.846230: "0.84623", 0.0000234567: "0.0000234567",
		2.5e-7: "under 0.00001", 0: "under 0.00001",
	} {
		if got := commissioning.ProbabilityInWords(p).String(); got != want {
			t.Errorf("%v: %s", p, got)
		}
	}
}
