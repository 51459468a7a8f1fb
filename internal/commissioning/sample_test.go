package commissioning_test

import (
	"testing"

	"settlemark/internal/commissioning"
)

func TestSameReading(t *testing.T) {
	for _, c := range []struct {
		a, b string
		same bool
	}{
		{"L3 2411 A", "l32411a", true},
		{"L3 2411 A", " L3\t2411 A ", true},
		{"L3 2411 A", "L3 2411 B", false},
		{"O0", "00", false},
		{"", "L3", false},
	} {
		if got := commissioning.SameReading(c.a, c.b); got != c.same {
			t.Errorf("%q and %q: %v, wants %v", c.a, c.b, got, c.same)
		}
	}
}
