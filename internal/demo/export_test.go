package demo

import (
	"time"

	"settlemark/internal/commissioning"
)

// What the tests of this room look at.
var (
	Glyphs = glyphs
)

// Machine gives what the unit of a run observes so long after its start.
func Machine(run commissioning.RunID, p commissioning.Procedure, start time.Time) func(time.Duration) []commissioning.Entry {
	m := machineOf(run, "", p)
	return func(after time.Duration) []commissioning.Entry { return m.observe(start, start, start.Add(after)) }
}

// Due is what the simulated unit of a run would report.
var Due = due
