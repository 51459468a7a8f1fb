package commissioning

import (
	"slices"

	"settlemark/internal/measure"
)

// KnowsUnits says whether there is such a set of local units; "" is none chosen.
func KnowsUnits(set string) bool {
	return set == "" || slices.Contains(measure.Locals, measure.Local(set))
}
