package measure

import "errors"

// Cup is an efflux cup: the time in which it runs empty gives the kinematic
// viscosity. Most of the cups were made for paint; a fluid of 3 to 6 mm²/s runs
// through them like water and cannot be read.
type Cup struct {
	Key, Name   string
	Least, Most float64 // seconds between which the formula holds
	kinematic   func(seconds float64) float64
}

// The refusals of a cup.
var (
	ErrTooThin  = errors.New("the fluid is too thin for this cup")
	ErrTooThick = errors.New("the fluid is too thick for this cup")
	ErrNoTime   = errors.New("no time of flow")
)

// Cups in the order in which they are offered. ISO 2431: ν = a·t − b/t. ASTM
// D4212 (Zahn and Shell, with the formulas of its annex): ν = a·(t − b). ν in
// mm²/s, t in seconds.
var Cups = []Cup{
	{"iso-3", "ISO 2431, 3 mm", 30, 100, flowCup(0.443, 200)},
	{"iso-4", "ISO 2431, 4 mm", 30, 100, flowCup(1.37, 200)},
	{"iso-5", "ISO 2431, 5 mm", 30, 100, flowCup(3.28, 220)},
	{"iso-6", "ISO 2431, 6 mm", 30, 100, flowCup(6.90, 570)},
	{"zahn-1", "ASTM D4212, Zahn 1", 35, 80, dipCup(1.1, 29)},
	{"zahn-2", "ASTM D4212, Zahn 2", 20, 80, dipCup(3.5, 14)},
	{"zahn-3", "ASTM D4212, Zahn 3", 20, 80, dipCup(11.7, 7.5)},
	{"zahn-4", "ASTM D4212, Zahn 4", 20, 80, dipCup(14.8, 5)},
	{"zahn-5", "ASTM D4212, Zahn 5", 20, 80, dipCup(23, 0)},
	{"shell-1", "ASTM D4212, Shell 1", 20, 80, dipCup(0.226, 13)},
	{"shell-2", "ASTM D4212, Shell 2", 20, 80, dipCup(0.576, 5)},
	{"shell-2.5", "ASTM D4212, Shell 2½", 20, 80, dipCup(0.925, 3)},
	{"shell-3", "ASTM D4212, Shell 3", 20, 80, dipCup(1.51, 2)},
	{"shell-3.5", "ASTM D4212, Shell 3½", 20, 80, dipCup(2.17, 1.5)},
	{"shell-4", "ASTM D4212, Shell 4", 20, 80, dipCup(3.45, 1)},
	{"shell-5", "ASTM D4212, Shell 5", 20, 80, dipCup(6.5, 1)},
	{"shell-6", "ASTM D4212, Shell 6", 20, 80, dipCup(16.2, 0.5)},
}

func flowCup(a, b float64) func(float64) float64 {
	return func(t float64) float64 { return a*t - b/t }
}

func dipCup(a, b float64) func(float64) float64 {
	return func(t float64) float64 { return a * (t - b) }
}

// CupOf finds a cup by its key.
func CupOf(key string) (Cup, bool) {
	for _, c := range Cups {
		if c.Key == key {
			return c, true
		}
	}
	return Cup{}, false
}

// Kinematic is the viscosity in mm²/s for a time of flow. A time outside the
// range of the cup is refused, never converted: below it the formula can even
// come out negative.
func (c Cup) Kinematic(seconds float64) (float64, error) {
	switch {
	case !aboveZero(seconds):
		return 0, ErrNoTime
	case seconds < c.Least:
		return 0, ErrTooThin
	case seconds > c.Most:
		return 0, ErrTooThick
	}
	return c.kinematic(seconds), nil
}

// Span is the viscosity at both ends of the range, in mm²/s.
func (c Cup) Span() (least, most float64) { return c.kinematic(c.Least), c.kinematic(c.Most) }

// Dynamic is the viscosity in mPa·s of a kinematic one in mm²/s, by the density
// in g/mL at the same temperature: η = ν·ρ.
func Dynamic(kinematic, density float64) (float64, bool) {
	if !allAboveZero(kinematic, density) {
		return 0, false
	}
	return kinematic * density, true
}
