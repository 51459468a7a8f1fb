package templates_test

import (
	"slices"
	"testing"

	"settlemark/templates"
)

func TestShortHold(t *testing.T) {
	t.Run("less than a minute is told in seconds", func(t *testing.T) {
		needs := tell(t).until("Soak").read(100, "4.50").read(100.5, "4.50").view(101).Needs()
		i := slices.IndexFunc(needs, func(n templates.Need) bool { return n.Name.String() == "Hold" })
		if i < 0 || needs[i].Number.String() != "30 s of 60 min" {
			t.Errorf("%+v", needs)
		}
	})
}
