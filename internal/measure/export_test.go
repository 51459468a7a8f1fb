package measure

// Both ways to find a target between two points, for a test that they agree.
var (
	Estimate = Curve.estimate
	Compute  = Curve.compute
)

// ExactChance for the table of chances.
var ExactChance = exactChance
