package commissioning

import (
	"slices"
	"time"

	"settlemark/internal/words"
)

// State of a run. Nothing leaves released or abandoned.
type State string

const (
	Open      State = "open"
	Submitted State = "submitted"
	Released  State = "released"
	Abandoned State = "abandoned"
)

// Name is how a sentence calls it.
func (s State) Name() words.Text {
	switch s {
	case Open:
		return words.Say("run|open")
	case Submitted:
		return words.Say("submitted")
	case Released:
		return words.Say("released")
	case Abandoned:
		return words.Say("abandoned")
	}
	return words.Plain(string(s))
}

// Run is one commissioning of one unit. A returned run is open again with
// Round one higher; its signatures are void.
type Run struct {
	ID        RunID
	Number    RunNumber
	Unit      string // tag
	Site      SiteID
	Line      string // the unit's line when the run was opened
	Bench     string
	Procedure string // key
	Revision  int
	State     State
	Round     int
	Seq       int    // seq of the newest entry, 0 when none
	Head      []byte // SHA-256 head of the chain, 32 bytes
	OpenedAt  time.Time
	OpenedBy  PersonID
	Pen       PersonID // who may add entries and submit
	Demo      bool

	SubmittedAt  *time.Time // of this round
	ReleasedAt   *time.Time
	ReturnedAt   *time.Time // of the last return, with its reason
	ReturnReason string
	AbandonedAt  *time.Time
	EndReason    string // why it was abandoned
	Certificate  CertificateNumber
}

// Accepts says whether the person may add this entry now.
// Others than the pen holder may add a fault or a note; a supervisor may rule.
// Whether a supervisor took part in the run is asked under its lock.
func (r Run) Accepts(e Entry, p Person) error {
	action := AddEntries
	switch e.Kind {
	case KindDisposition:
		action = RuleOnEntries
	case KindFault, KindNote:
		action = ReportFault
	}
	return action.On(Situation{Person: p, Run: r})
}

// CountersignableBy says whether the person may release the run: submitted, a
// supervisor of its site, and nobody who recorded anything in it.
func (r Run) CountersignableBy(p Person, contributors []PersonID) error {
	return CountersignRun.On(Situation{Person: p, Run: r, TookPart: slices.Contains(contributors, p.ID)})
}
