package templates

import (
	"fmt"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
)

// Lead is the largest thing on the page: how long still, in what state, and
// what to do. The number counts from the last check that was proven, is
// rounded up, and never reaches zero by the passing of time.
type Lead struct {
	Number string
	Label  string // what the number counts
	Look   string // ok, bad, warn, idle
	Icon   string
	Word   string
	Say    string
	Then   string

	LastAt, LastValue string
	Next              string // "in 1:50", or when it was due
	NextLabel         string

	Ready, NextAt *time.Time // for the script, which only counts down to them
}

// Lead of the run at the page's instant.
func (v RunView) Lead() Lead {
	hold := v.Exam.Assessment.Hold
	l := Lead{Number: wholeMinutes(hold.Required), Label: "of hold needed", Look: "idle", Icon: "open"}
	v.leadChecks(&l)
	switch {
	case v.Run.State != commissioning.Open:
		v.leadEnded(&l)
	case hold.Verdict == rules.Pass:
		v.leadProven(&l)
	case len(v.Exam.Assessment.Faults.Open) > 0:
		v.leadFault(&l)
	case hold.EarliestPass != nil:
		v.leadRunning(&l)
	case v.jet() != "running":
		v.leadAtRest(&l)
	case v.stale() != nil:
		v.leadStale(&l)
	case len(hold.Breaks) > 0:
		v.leadBroken(&l)
	default:
		v.leadSettling(&l)
	}
	return l
}

// leadChecks fills in the last and the next check of the viscosity.
func (v RunView) leadChecks(l *Lead) {
	last := v.Last(v.Viscosity())
	if last == nil {
		l.NextLabel = "no check yet"
		return
	}
	l.LastAt, l.LastValue = v.Clock(last.Entry.ObservedAt), last.Value
	if v.Run.State != commissioning.Open || v.jet() != "running" {
		return
	}
	q := v.Series(v.Viscosity()).Quantity
	every := q.Cadence.D
	if every == 0 {
		every = q.MaxGap.D
	}
	if every == 0 {
		return
	}
	due := last.Entry.ObservedAt.Add(every)
	l.NextAt, l.NextLabel = &due, "next check in"
	if left := due.Sub(v.Now); left > 0 {
		l.Next = clockLeft(left)
		return
	}
	l.NextLabel, l.Next = "check due since", v.Clock(due)
}

func (v RunView) leadEnded(l *Lead) {
	l.NextAt, l.Next, l.NextLabel = nil, "", ""
	hold := v.Exam.Assessment.Hold
	l.Number, l.Label, l.Icon = wholeMinutesDown(hold.Held), "held without a break", "ink"
	switch v.Run.State {
	case commissioning.Submitted:
		l.Word, l.Say = "Signed, waiting for the second signature", "Nothing can be added now. A supervisor who took no part checks it."
	case commissioning.Released:
		l.Look, l.Icon, l.Word = "seal", "seal", "Released"
		l.Say = "Certificate " + string(v.Run.Certificate) + " stands for this run."
	case commissioning.Abandoned:
		l.Word, l.Say = "Abandoned", v.Run.EndReason
	}
}

func (v RunView) leadProven(l *Lead) {
	hold := v.Exam.Assessment.Hold
	l.Number, l.Label = wholeMinutesDown(hold.Held), "held without a break"
	l.Look, l.Icon, l.Word = "ok", "met", "Hold complete"
	if hold.From != nil && hold.To != nil {
		l.Say = fmt.Sprintf("Proven from %s to %s.", v.Clock(*hold.From), v.Clock(*hold.To))
	}
	l.Then = "Leave the unit running."
	if next := v.nextOpenLine(); next != "" {
		l.Then = "Leave the unit running. Next: " + next
	}
}

func (v RunView) leadFault(l *Lead) {
	l.Look, l.Icon, l.Word = "bad", "stop", "Fault open"
	for _, f := range v.Exam.Faults {
		if f.ClearedBy == nil {
			l.Say = fmt.Sprintf("%s fault since %s. Nothing counts until it is cleared.", faultName(f.Entry.Fault), v.Clock(f.Entry.ObservedAt))
			break
		}
	}
	l.Then = "Clear it, start the jet again, then wait for the next check in band."
}

func (v RunView) leadRunning(l *Lead) {
	hold := v.Exam.Assessment.Hold
	ready := *hold.EarliestPass
	l.Ready, l.Label = &ready, "left in hold"
	l.Look, l.Icon, l.Word = "ok", "met", "In band, holding"
	if left := ready.Sub(v.Now); left > 0 {
		l.Number = wholeMinutes(left)
		l.Say = fmt.Sprintf("Complete at %s if every check stays in band.", v.Clock(ceilMinute(ready)))
	} else {
		l.Number = "1"
		l.Word = "Waiting for the " + v.Clock(v.checkAt(ready)) + " check"
		l.Say = "The time is up; the next check in band proves it."
	}
	if l.NextAt != nil && v.Now.Sub(*l.NextAt) > 30*time.Second {
		l.Look, l.Icon, l.Word = "warn", "look", "Check late"
		l.Say = "One was due at " + v.Clock(*l.NextAt) + "."
		if gap := v.Series(v.Viscosity()).Quantity.MaxGap.D; gap > 0 {
			l.Say += " Without one by " + v.Clock(v.Last(v.Viscosity()).Entry.ObservedAt.Add(gap)) + " the hold starts again."
		}
	}
	l.Then = v.whileWaiting()
}

// checkAt is the first check at or after an instant, by the unit's own cadence.
func (v RunView) checkAt(t time.Time) time.Time {
	last, every := v.Last(v.Viscosity()), v.Series(v.Viscosity()).Quantity.Cadence.D
	if last == nil || every <= 0 {
		return ceilMinute(t)
	}
	due := last.Entry.ObservedAt
	for due.Before(t) {
		due = due.Add(every)
	}
	return due
}

func (v RunView) leadAtRest(l *Lead) {
	l.NextLabel = ""
	if v.jet() == "stopped" {
		l.Look, l.Icon, l.Word = "warn", "look", "Jet stopped"
		l.Say = "The hold starts with the first check in band after the next start."
		return
	}
	l.Word, l.Say = "Not started", "The hold starts with the first check in band after the first start."
}

// stale is the hold that was complete and that only silence has undone, nil
// when there is none.
func (v RunView) stale() *rules.Interval {
	for _, r := range v.Exam.Assessment.Hold.Reasons {
		if r.Code != "needs_fresh_reading" {
			continue
		}
		for i := len(v.Exam.Holds) - 1; i >= 0; i-- {
			if v.Exam.Holds[i].Enough {
				return &v.Exam.Holds[i]
			}
		}
	}
	return nil
}

func (v RunView) leadStale(l *Lead) {
	held := v.stale()
	l.Number, l.Label = wholeMinutesDown(held.To.Sub(held.From)), "held without a break"
	l.Look, l.Icon, l.Word = "warn", "look", "Needs a fresh reading"
	l.Say = "The hold was proven, but nothing was heard since " + v.Clock(held.To) + "."
	l.Then = "One check in band of each condition is enough."
}

func (v RunView) leadBroken(l *Lead) {
	hold := v.Exam.Assessment.Hold
	last := hold.Breaks[len(hold.Breaks)-1]
	l.Label = "of hold needed again"
	l.Look, l.Icon, l.Word = "bad", "stop", "Hold stopped"
	l.Say = v.breakSentence(last) + " Starts again with the next check in band."
	l.Then = "Leave the unit running."
	if last.Cause == "fault" || last.Cause == "started" {
		l.Then = ""
		return
	}
	v.leadForecast(l)
}

// breakSentence says what ended a hold, with the value that did it.
func (v RunView) breakSentence(b rules.Break) string {
	if b.Cause == "out_of_tolerance" {
		for _, p := range v.Series(b.Condition).Points {
			if !p.Good && p.Entry.ObservedAt.After(b.At) {
				return outSentence(p, v.Clock(p.Entry.ObservedAt))
			}
		}
	}
	return measure.Signs(b.Text.String())
}

func (v RunView) leadSettling(l *Lead) {
	last := v.Last(v.Viscosity())
	if last == nil {
		l.Word, l.Say = "No check yet", "The hold starts with the first check in band."
		l.Then = "Type the first reading, or wait for the unit's own."
		return
	}
	if last.Good && !last.Late {
		l.Icon, l.Word = "part", "In band, not holding yet"
		if reasons := v.Exam.Assessment.Hold.Reasons; len(reasons) > 0 {
			l.Say = measure.Signs(reasons[0].Text.String())
		}
		return
	}
	l.Word = "Not in band yet"
	if last.Late {
		l.Word = "Last check came late"
	}
	l.Say = outSentence(*last, v.Clock(last.Entry.ObservedAt)) + " The hold starts with the first check in band."
	l.Then = "Leave the unit running."
	v.leadForecast(l)
}

// jet is "" before the first start, then running or stopped.
func (v RunView) jet() string {
	state, at := "", time.Time{}
	for _, e := range v.Exam.Live {
		if e.Kind != commissioning.KindStart && e.Kind != commissioning.KindStop {
			continue
		}
		if e.ObservedAt.Before(at) {
			continue
		}
		state, at = "running", e.ObservedAt
		if e.Kind == commissioning.KindStop {
			state = "stopped"
		}
	}
	return state
}

// whileWaiting names useful work for the time of the hold.
func (v RunView) whileWaiting() string {
	for _, c := range v.Exam.Containers {
		if c.Over {
			return "While you wait: empty the waste container."
		}
	}
	for _, st := range v.Exam.Steps {
		if !st.Answered && st.Section == v.Here() && st.Step.Ask != commissioning.AskGate {
			return "While you wait: one line below is open."
		}
	}
	return "Nothing to do. Leave the unit running."
}

func (v RunView) nextOpenLine() string {
	for _, st := range v.Exam.Steps {
		if !st.Answered && st.Step.Ask != commissioning.AskGate {
			return v.Procedure.Sections[st.Section].Title + "."
		}
	}
	return ""
}
