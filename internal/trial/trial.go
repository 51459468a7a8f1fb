// Package trial says how often a test tries what seldom goes wrong.
package trial

import "os"

// Full is asked for by make promises and make faults; without it the tests try
// so often that a fault is likely seen, with it as often as the promises say.
var Full = os.Getenv("SETTLEMARK_TRIALS") == "full"

// Times is how often something is tried.
func Times(quick, full int) int {
	if Full {
		return full
	}
	return quick
}
