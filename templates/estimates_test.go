package templates_test

import (
	"strings"
	"testing"

	"settlemark/internal/commissioning"
	"settlemark/templates"
)

// thin is a make-up with round figures.
var thin = commissioning.Fluid{Code: "K-20M", Position: commissioning.MakeUp, Figures: commissioning.Figures{
	commissioning.Density: {Value: "0.805", Source: "sheet"}, commissioning.MolarMass: {Value: "72.11", Source: "sheet"},
	commissioning.LEL: {Value: "1.4", Source: "table A"}, commissioning.Limit: {Value: "200", Source: "table B"},
	commissioning.Thickness: {Value: "0.40", Source: "sheet"},
}}

func with(v templates.RunView, makeUp commissioning.Fluid) templates.RunView {
	v.Makeup = makeUp
	return v
}

func TestEstimates(t *testing.T) {
	t.Run("nothing is flushed by the first drain", func(t *testing.T) {
		if got := said(page(t, tell(t).until("First flush").view(30)), ".card > .estimate"); got != "" {
			t.Error(got)
		}
	})
	// 50/(50+205) = 19.6 %, squared 3.84 %.
	t.Run("old fluid falls with each flush by what was drained", func(t *testing.T) {
		doc := page(t, tell(t).until("Refill").view(40))
		for section, want := range map[string]string{"#section-2": "About 20 % of the old fluid is left after 1 flush.", "#section-3": "About 3.8 % of the old fluid is left after 2 flushes."} {
			if got := said(doc, section+" > .estimate"); !strings.Contains(got, want) || !strings.Contains(got, "50 mL stay behind") || !strings.Contains(got, "It decides nothing.") {
				t.Errorf("%s: %q", section, got)
			}
		}
	})
	// From 5.40 to 4.50 with 0.40: x = ln 1.2 / ln 13.5 = 0.07005; 1000·x/(1−x) = 75.3 mL.
	above := with(tell(t).until("Settle").read(60, "5.40").view(61), thin)
	t.Run("make-up is reckoned while the reading lies above its band", func(t *testing.T) {
		if got := said(page(t, above), "#makeup"); !strings.Contains(got, "About 75 mL of K-20M to 1000 mL of ink would bring 5.40 down to 4.50.") || !strings.Contains(got, "sheet") {
			t.Error(got)
		}
		if got := said(page(t, with(tell(t).until("Settle").read(60, "4.90").view(61), thin)), "#makeup"); got != "" {
			t.Error("in band it says ", got)
		}
		if got := said(page(t, with(above, commissioning.Fluid{})), "#makeup"); got != "" {
			t.Error("without figures it says ", got)
		}
	})
	t.Run("every screen hears when the estimate goes", func(t *testing.T) {
		for _, p := range templates.RunPieces(above) {
			if p.Name == "makeup" && strings.Contains(said(render(t, p.Body), "body"), "About 75 mL") {
				return
			}
		}
		t.Error("no piece of that name says so")
	})
	// 100 mL · 0.805 / 72.11 · 24.45 L in 50 m³ = 546 ppm.
	t.Run("vapour stands among the cautions where fluid is open", func(t *testing.T) {
		doc := page(t, with(tell(t).view(1), thin))
		for section, shown := range map[string]bool{"#section-0": true, "#section-1": true, "#section-4": false, "#section-6": false} {
			got := said(doc, section+" .cautions .estimate")
			if strings.Contains(got, "about 550 ppm (1600 mg/m³), 3.9 % of the lower explosive limit of 1.4 % (table A), 2.7 times the shift limit of 200 ppm (table B).") != shown ||
				strings.Contains(got, "never a permission") != shown {
				t.Errorf("%s: %q", section, got)
			}
		}
		if doc := page(t, tell(t).view(1)); doc.Find(".cautions .estimate").Length() != 0 {
			t.Error("a fluid without figures has an estimate")
		}
	})
}
