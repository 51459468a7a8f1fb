package commissioning

import "time"

// Procedure is one revision of a procedure, settlemark.procedure/1. Decimals
// are kept as typed; durations are Go's. A Procedure made by ParseProcedure
// can be judged.
type Procedure struct {
	Format     string     `json:"format"`
	Key        string     `json:"key"`
	Title      string     `json:"title"`
	Revision   int        `json:"revision"`
	LateAfter  Duration   `json:"late_after"`
	ValidFor   Duration   `json:"valid_for,omitzero"`
	VoidedBy   []string   `json:"voided_by,omitempty"`
	Quantities []Quantity `json:"quantities"`
	Faults     Faults     `json:"faults"`
	Sections   []Section  `json:"sections"`
	Gates      Gates      `json:"gates"`
}

// Duration is written as Go writes it ("7m", "1h30m") and keeps its text.
type Duration struct {
	Text string
	D    time.Duration
}

// Quantity is something that is observed: a number with a unit, or a state.
type Quantity struct {
	Key         string       `json:"key"`
	Label       string       `json:"label"`
	Unit        string       `json:"unit,omitempty"`
	State       *bool        `json:"state,omitempty"` // the state wanted; nil for numbers
	Cadence     Duration     `json:"cadence,omitzero"`
	MaxGap      Duration     `json:"max_gap,omitzero"`
	Target      *Target      `json:"target,omitempty"`
	Tolerance   *Tolerance   `json:"tolerance,omitempty"`
	Uncertainty *Uncertainty `json:"uncertainty,omitempty"`
	Decision    string       `json:"decision,omitempty"` // simple (default), guarded
	GuardFactor string       `json:"guard_factor,omitempty"`
}

// Target is a fixed value, or a curve by another quantity.
type Target struct {
	Value string       `json:"value,omitempty"`
	By    string       `json:"by,omitempty"`
	Curve []CurvePoint `json:"curve,omitempty"`
}

// CurvePoint gives the target at one temperature in °C.
type CurvePoint struct {
	At    string `json:"at"`
	Value string `json:"value"`
}

// Tolerance is percent or absolute about the target, or two fixed limits.
type Tolerance struct {
	Percent  string `json:"percent,omitempty"`
	Absolute string `json:"absolute,omitempty"`
	Lower    string `json:"lower,omitempty"`
	Upper    string `json:"upper,omitempty"`
}

// Uncertainty is the expanded uncertainty of the instrument with its factor.
type Uncertainty struct {
	Percent  string `json:"percent,omitempty"`
	Absolute string `json:"absolute,omitempty"`
	K        string `json:"k,omitempty"`
}

// Faults names the kinds that may be reported.
type Faults struct {
	Expected []ExpectedFault `json:"expected,omitempty"`
	Others   []string        `json:"others,omitempty"`
}

// ExpectedFault may occur AtMost times without a decision.
type ExpectedFault struct {
	Kind   string `json:"kind"`
	AtMost int    `json:"at_most"`
}

// Section is one notch of the stick.
type Section struct {
	Title    string   `json:"title"`
	Cautions []string `json:"cautions,omitempty"`
	AnyOrder bool     `json:"any_order,omitempty"`
	Steps    []Step   `json:"steps"`
}

// Ask is how a step is answered.
type Ask string

const (
	AskConfirm Ask = "confirm"
	AskValue   Ask = "value"
	AskText    Ask = "text"
	AskChoice  Ask = "choice"
	AskDrain   Ask = "drain"
	AskLoad    Ask = "load"
	AskPhoto   Ask = "photo"
	AskStart   Ask = "start"
	AskSample  Ask = "sample"
	AskGate    Ask = "gate"
)

// Step is one line of the checklist.
type Step struct {
	ID                  string   `json:"id"`
	Ask                 Ask      `json:"ask"`
	Text                string   `json:"text"`
	Optional            bool     `json:"optional,omitempty"`
	Quantity            string   `json:"quantity,omitempty"`
	Options             []string `json:"options,omitempty"`
	Container           string   `json:"container,omitempty"`
	CapacityML          string   `json:"capacity_ml,omitempty"`
	FillAtMostPercent   string   `json:"fill_at_most_percent,omitempty"`
	Position            Position `json:"position,omitempty"`
	Fluid               string   `json:"fluid,omitempty"` // ink, makeup, or a literal code
	LevelAtLeastPercent string   `json:"level_at_least_percent,omitempty"`
	Gate                string   `json:"gate,omitempty"`
}

// Gates are the two gates that a procedure sets.
type Gates struct {
	Viscosity ViscosityGate `json:"viscosity"`
	Hold      HoldGate      `json:"hold"`
}

// ViscosityGate asks for a number of checks in tolerance.
type ViscosityGate struct {
	Quantity       string   `json:"quantity"`
	Checks         int      `json:"checks"`
	SpacingAtLeast Duration `json:"spacing_at_least"`
}

// HoldGate asks for conditions held without a break for the soak.
type HoldGate struct {
	Conditions  []string `json:"conditions"`
	Soak        Duration `json:"soak"`
	FreshWithin Duration `json:"fresh_within"`
}
