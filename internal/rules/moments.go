package rules

import (
	"fmt"
	"time"

	"settlemark/internal/commissioning"
)

// newsFor is how long something is news: who was told of it later, such as
// after a restart, would look for it in vain.
const newsFor = 15 * time.Minute

// Moments gives what of a run somebody is told of at an instant, and when to
// look again because time alone brings the next, zero for never.
func (x Examination) Moments(run commissioning.Run, p commissioning.Procedure, at time.Time) (told []commissioning.Moment, next time.Time) {
	tell := func(e commissioning.Event, key string, when time.Time, text string) {
		if age := at.Sub(when); age >= 0 && age < newsFor {
			told = append(told, commissioning.Moment{Event: e, Key: string(e) + " " + key, At: when, Text: text})
		}
	}
	if run.State == commissioning.Submitted && run.SubmittedAt != nil {
		tell(commissioning.EventWaiting, fmt.Sprint(run.Round), *run.SubmittedAt, "A run waits for the second signature.")
	}
	if run.State != commissioning.Open {
		return told, next
	}
	for _, f := range x.Faults {
		if f.ClearedBy == nil && !f.Expected {
			tell(commissioning.EventStopped, fmt.Sprint("fault ", f.Entry.Seq), f.Entry.ObservedAt, "A fault stands: "+f.Entry.Fault+".")
		}
	}
	if n := len(x.Assessment.Hold.Breaks); n > 0 && x.Assessment.Hold.Breaks[n-1].Cause != "started" {
		b := x.Assessment.Hold.Breaks[n-1]
		tell(commissioning.EventStopped, fmt.Sprint("hold ", n), b.At, "Hold stopped.")
	}
	if hold := x.Assessment.Hold; hold.Verdict == Pass {
		tell(commissioning.EventReady, fmt.Sprint(len(hold.Breaks)), *hold.To, "Hold complete.")
		return told, next
	}
	if due, seq := x.checkDue(p); !due.IsZero() {
		if next = due; !at.Before(due) {
			next = time.Time{}
			tell(commissioning.EventCheck, fmt.Sprint(seq), due, "A check is due.")
		}
	}
	return told, next
}

// checkDue is when the next check that somebody types is due while the jet runs;
// zero when none is.
func (x Examination) checkDue(p commissioning.Procedure) (due time.Time, after int) {
	if !x.running() {
		return due, 0
	}
	for _, s := range x.Series {
		if s.Quantity.Key != p.Gates.Viscosity.Quantity || len(s.Points) == 0 {
			continue
		}
		last, every := s.Points[len(s.Points)-1].Entry, s.Quantity.Cadence.D
		if every == 0 {
			every = s.Quantity.MaxGap.D
		}
		if every > 0 && last.Via == "typed" {
			return last.ObservedAt.Add(every), last.Seq
		}
	}
	return due, 0
}

// running says whether the jet was started and not stopped since.
func (x Examination) running() (on bool) {
	var at time.Time
	for _, e := range x.Live {
		if (e.Kind == commissioning.KindStart || e.Kind == commissioning.KindStop) && !e.ObservedAt.Before(at) {
			on, at = e.Kind == commissioning.KindStart, e.ObservedAt
		}
	}
	return on
}
