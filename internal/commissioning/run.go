package commissioning

import (
	"slices"
	"time"

	"settlemark/internal/problem"
)

// State of a run. Nothing leaves released or abandoned.
type State string

const (
	Open      State = "open"
	Submitted State = "submitted"
	Released  State = "released"
	Abandoned State = "abandoned"
)

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
func (r Run) Accepts(e Entry, p Person) error {
	if e.Kind == KindDisposition {
		if !p.Has(Supervisor, r.Site) {
			return problem.New(problem.Forbidden, "Only a supervisor of this site may rule on an entry. Ask one to open this run.")
		}
		if r.State != Open && r.State != Submitted {
			return problem.New(problem.Conflict, "Run %s is %s. Nothing can be added to it.", r.Number, r.State)
		}
		return nil
	}
	if !p.Has(Engineer, r.Site) {
		return problem.New(problem.Forbidden, "Only an engineer of this site may add entries. Ask the engineer who holds the pen.")
	}
	if r.State != Open {
		return problem.New(problem.Conflict, "Run %s is %s. Nothing can be added to it.", r.Number, r.State)
	}
	if r.Pen != p.ID && e.Kind != KindFault && e.Kind != KindNote {
		return problem.New(problem.Forbidden, "Somebody else holds the pen of this run. Take the pen first; both of you are named.")
	}
	return nil
}

// CountersignableBy says whether the person may release the run: submitted, a
// supervisor of its site, and nobody who recorded anything in it.
func (r Run) CountersignableBy(p Person, contributors []PersonID) error {
	if r.State != Submitted {
		return problem.New(problem.Conflict, "Run %s is %s, not waiting for a countersignature.", r.Number, r.State)
	}
	if !p.Has(Supervisor, r.Site) {
		return problem.New(problem.Forbidden, "Only a supervisor of this site may countersign.")
	}
	if slices.Contains(contributors, p.ID) {
		return problem.New(problem.Forbidden, "You worked on this run. Someone else must sign.")
	}
	return nil
}
