package commissioning_test

import (
	"slices"
	"testing"

	"settlemark/internal/commissioning"
)

func TestShippedProcedures(t *testing.T) {
	shipped, err := commissioning.ShippedProcedures()
	if err != nil {
		t.Fatal(err)
	}
	keys := []string{}
	for _, yaml := range shipped {
		p, err := commissioning.ParseProcedure(yaml)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		keys = append(keys, p.Key)
		t.Run(p.Key, func(t *testing.T) { completeForABench(t, p) })
	}
	if want := []string{"change-of-fluid", "first-commissioning", "return-to-service"}; !slices.Equal(keys, want) {
		t.Errorf("shipped %v, want %v", keys, want)
	}
}

// completeForABench holds a procedure against what the job needs.
func completeForABench(t *testing.T, p commissioning.Procedure) {
	asks := map[commissioning.Ask]int{}
	positions := map[commissioning.Position]bool{}
	gates := map[string]bool{}
	for _, section := range p.Sections {
		for _, c := range commissioning.Cautions(section.Cautions) {
			if c.Own.Empty() {
				t.Errorf("section %s: caution %s has no sentence of its own", section.Title, c.Key)
			}
		}
		if len(section.Title) > 14 {
			t.Errorf("section %q is too long for the stick", section.Title)
		}
		for i, step := range section.Steps {
			asks[step.Ask]++
			gates[step.Gate] = true
			touches := step.Ask == commissioning.AskLoad || step.Ask == commissioning.AskDrain
			if touches && !slices.Contains(section.Cautions, "flammable") {
				t.Errorf("%s touches fluid without its caution", step.ID)
			}
			if step.Ask == commissioning.AskLoad && section.Title == "Refill" {
				positions[step.Position] = true
			}
			if step.Ask == commissioning.AskDrain && !step.Optional && (i+1 == len(section.Steps) || section.Steps[i+1].Ask != commissioning.AskConfirm) {
				t.Errorf("after %s no step asks for the drain line", step.ID)
			}
		}
	}
	if n := len(p.Sections); n < 10 || n > 12 {
		t.Errorf("%d sections; the stick takes 10 to 12", n)
	}
	if asks[commissioning.AskDrain] < 3 || asks[commissioning.AskStart] != 1 || asks[commissioning.AskSample] != 1 {
		t.Errorf("drains, starts, samples: %v", asks)
	}
	if !positions[commissioning.Ink] || !positions[commissioning.MakeUp] {
		t.Error("refill does not ask for both containers")
	}
	if !gates["viscosity"] || !gates["hold"] {
		t.Error("no step waits for viscosity and hold")
	}
}
