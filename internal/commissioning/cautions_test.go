package commissioning_test

import (
	"strings"
	"testing"

	"settlemark/internal/commissioning"
)

func TestCautions(t *testing.T) {
	keys := []string{"hazardous_waste", "pressure", "high_voltage", "skin_eyes", "static", "flammable"}
	all := commissioning.Cautions(keys)

	t.Run("every key has its caution, in their own order", func(t *testing.T) {
		if len(all) != len(keys) || all[0].Key != "flammable" || all[5].Key != "hazardous_waste" {
			t.Fatalf("got %v", all)
		}
	})
	t.Run("each caution defers to the safety data sheet, the site's rules, local codes and a licensed person", func(t *testing.T) {
		for _, c := range all {
			for _, wanted := range []string{"safety data sheet", "site's rules", "local codes", "licensed person"} {
				if !strings.Contains(c.Text().String(), wanted) {
					t.Errorf("%s lacks %q", c.Key, wanted)
				}
			}
		}
	})
	t.Run("a key without a sentence of its own is shown all the same", func(t *testing.T) {
		got := commissioning.Cautions([]string{"hot_surface", "static"})
		if len(got) != 2 || got[0].Key != "static" || got[1].Title.String() != "hot surface" || !got[1].Text().Equal(commissioning.Deferral) {
			t.Errorf("got %v", got)
		}
	})
}
