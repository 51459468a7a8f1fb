package templates_test

import (
	"strings"
	"testing"

	"settlemark/internal/commissioning"
	"settlemark/templates"
)

func TestConformity(t *testing.T) {
	shown := func(s *story) string { return said(render(t, templates.RunEntries(s.view(61))), ".conformity") }
	t.Run("says how sure and by which rule", func(t *testing.T) {
		// 4.90 ± 2 % with k = 2 against 4.05 to 4.95: u = 0.049, z = 1.0204, Φ = 0.846233.
		got := shown(tell(t).until("Settle").read(60, "4.90"))
		if got != "The true value behind 4.90 lies inside 4.05 to 4.95 with a probability of 0.846233."+
			" Simple acceptance: in when inside the limits, both limits in; uncertainty is not taken off."+
			" Instrument's expanded uncertainty 2 % of the value, k = 2." {
			t.Error(got)
		}
	})
	t.Run("never calls it certain", func(t *testing.T) {
		if got := shown(tell(t).until("Settle").read(60, "4.50")); !strings.Contains(got, "a probability of over 0.99999.") {
			t.Error(got)
		}
	})
	t.Run("says the guarded rule, and nothing of a probability without an uncertainty", func(t *testing.T) {
		s := tell(t).until("Settle").read(60, "4.90")
		for i := range s.p.Quantities {
			s.p.Quantities[i].Uncertainty = nil
		}
		if got := shown(s); !strings.HasPrefix(got, "Simple acceptance") || strings.Contains(got, "probability") {
			t.Error(got)
		}
		s.p.Quantities[1].Decision, s.p.Quantities[1].Uncertainty = commissioning.Guarded, &commissioning.Uncertainty{Absolute: "0.1"}
		if got := shown(s); !strings.Contains(got, "Guarded acceptance: in when inside the limits by 1 times the expanded uncertainty. Instrument's expanded uncertainty 0.1 mPa·s, k = 2.") {
			t.Error(got)
		}
	})
	t.Run("says nothing before the first reading", func(t *testing.T) {
		if got := shown(tell(t).until("Settle")); got != "" {
			t.Error(got)
		}
	})
}
