package rules

import (
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// Examination is the assessment with all that it was read from, for pages,
// charts and the certificate. Nothing in it decides anything.
type Examination struct {
	Assessment Assessment
	Live       []commissioning.Entry       // what the rules looked at, replacements in place, by seq
	Struck     map[int]int                 // seq of a struck entry → seq of the correction
	Late       map[int]bool                // late entries (section 8), accepted or not
	Rulings    map[int]commissioning.Entry // seq → its last live disposition
	Series     []Series                    // one per quantity of the procedure, in its order
	Holds      []Interval                  // every interval longer than zero that was covered, by time; the last may be running
	Steps      []StepState                 // every step of the procedure, in order
	Containers []Container                 // waste containers, in order of the procedure
	Faults     []FaultState                // live faults by time
	Loads      []LoadState                 // live loads by time

	Instruments []InstrumentState // that the run names, in its order
}

// Series is the live readings of one quantity by (observed_at, seq).
type Series struct {
	Quantity commissioning.Quantity
	Points   []Point
}

// Point is one live reading as it was judged.
type Point struct {
	Entry  commissioning.Entry
	Value  string // in the quantity's own unit, exact; "" for a state
	Target string // "" when none was found
	Lower  string
	Upper  string
	Good   bool
	Late   bool       // late and not accepted: no evidence for, still evidence against
	Counts bool       // one of the checks that the viscosity gate counted
	Why    words.Text // why it is not good, one sentence; empty when it is
}

// Interval is a closed stretch of time that was held.
type Interval struct {
	From, To time.Time
	Running  bool   // the one that is still going on at the instant of judgement
	Enough   bool   // at least the soak long
	Cause    string // why it ended, "" when running
}

// StepState is a step with its answer.
type StepState struct {
	Section       int // index into the procedure's sections
	Step          commissioning.Step
	Answered      bool
	Answers       []commissioning.Entry // live answers by (observed_at, seq); empty for a gate step
	NeedsDecision bool
}

// Container is a waste container at the instant of judgement.
type Container struct {
	Name        string
	CapacityML  string
	LimitML     string // capacity × fill limit
	VolumeML    string // since its last live emptying
	PercentFull string // of capacity, rounded to whole percent
	Over        bool
}

// FaultState is a live fault with its clearing.
type FaultState struct {
	Entry     commissioning.Entry
	ClearedBy *commissioning.Entry // earliest live clearing; nil while open
	Expected  bool                 // within at_most of its kind
}

// InstrumentState is an instrument of the run with the first live entries, by
// (observed_at, seq), that it does not suffice for.
type InstrumentState struct {
	commissioning.Instrument
	Overdue *commissioning.Entry // measured after its calibration was due; nil when none was
	Coarse  *commissioning.Entry // measured less surely than the procedure counts with
}

// LoadState is a live load with what is wrong with it.
type LoadState struct {
	Entry    commissioning.Entry
	Problems []words.Text // sentences; none when it is right
}
