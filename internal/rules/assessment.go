// Package rules judges a logbook: Judge(logbook, at) gives an Assessment.
//
// It is pure: no clock, no database, no network, so the live page, the
// signature check, the certificate and the command line give one answer.
// Same logbook, same bytes, on every machine.
package rules

import (
	"time"

	"settlemark/internal/words"
)

// Version of these rules. It moves on when a logbook that could be judged
// before would be judged to other bytes; an old certificate is judged by its own.
const Version = 1

// Verdict of a gate.
type Verdict string

// Verdicts of a gate, and of a run.
const (
	Pass          Verdict = "pass"
	Pending       Verdict = "pending"
	NeedsDecision Verdict = "needs_decision"
	Fail          Verdict = "fail"

	Releasable Verdict = "releasable"
	Blocked    Verdict = "blocked"
	NotYet     Verdict = "not_yet"
)

// Assessment is settlemark.assessment/1. MarshalJSON writes the gates as a list in their order.
type Assessment struct {
	At              time.Time
	Verdict         Verdict
	Ignored         []int
	Steps           StepsGate
	Fluids          FluidsGate
	Faults          FaultsGate
	Viscosity       ViscosityGate
	Hold            HoldGate
	DecisionsNeeded []DecisionNeeded
}

// Reason is one plain sentence that a person can act on, and its code. The
// assessment as JSON has it in English.
type Reason struct {
	Code string
	Text words.Text
}

// Finding is what every gate has: its verdict and the reasons for it.
type Finding struct {
	Verdict Verdict
	Reasons []Reason
}

// StepsGate lists the steps without an answer.
type StepsGate struct {
	Finding
	Open []string // step ids, in order of the procedure
}

// FluidsGate covers loads and waste containers.
type FluidsGate struct{ Finding }

// FaultsGate counts live faults.
type FaultsGate struct {
	Finding
	Count          int
	Open           []int // seqs
	BeyondExpected []int // seqs
}

// ViscosityGate shows the newest reading against its limits. Decimals are text, "" when there is none.
type ViscosityGate struct {
	Finding
	Value, Target, Lower, Upper, DeviationPercent string
	Checks, Required                              int
	ConformanceProbability                        *float64
}

// HoldGate shows the reported or the running interval.
type HoldGate struct {
	Finding
	Held, Required time.Duration
	From, To       *time.Time
	EarliestPass   *time.Time
	Breaks         []Break
}

// Break says why an interval that was held has ended.
type Break struct {
	At        time.Time // the last instant covered
	Cause     string    // out_of_tolerance, not_ready, gap, fault, stopped, started
	Condition string
	Text      words.Text
}

// DecisionNeeded names an entry that only a supervisor's disposition can settle.
type DecisionNeeded struct {
	Ref  int
	Gate string
	Code string
	Text words.Text
}
