package templates

import (
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// Lead is the largest thing on the page: how long still, in what state, and
// what to do. The number counts from the last check that was proven, is
// rounded up, and never reaches zero by the passing of time.
type Lead struct {
	Number string
	Label  words.Text // what the number counts
	Look   string     // ok, bad, warn, idle
	Icon   string
	Word   words.Text
	Say    words.Text
	Then   words.Text

	LastAt, LastValue string
	Next              string // "1:50", or when it was due
	NextLabel         words.Text
	Overdue           bool

	Ready, NextAt *time.Time // for the script, which only counts down to them
}

var (
	leaveRunning = words.Say("Leave the unit running.")
	startsInBand = words.Say("The hold starts with the first check in band.")
)

// Lead of the run at the page's instant.
func (v RunView) Lead() Lead {
	hold := v.Exam.Assessment.Hold
	l := Lead{Number: wholeMinutes(hold.Required), Label: words.Say("of hold needed"), Look: "idle", Icon: "open"}
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
		l.NextLabel = words.Say("no check yet")
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
	l.NextAt, l.NextLabel = &due, words.Say("next check in")
	if left := due.Sub(v.Now); left > 0 {
		l.Next = clockLeft(left)
		return
	}
	l.NextLabel, l.Next, l.Overdue = words.Say("check due since"), v.Clock(due), true
}

func (v RunView) leadEnded(l *Lead) {
	l.NextAt, l.Next, l.NextLabel = nil, "", words.Text{}
	hold := v.Exam.Assessment.Hold
	l.Number, l.Label, l.Icon = wholeMinutesDown(hold.Held), words.Say("held without a break"), "ink"
	switch v.Run.State {
	case commissioning.Submitted:
		l.Word = words.Say("Signed, waiting for the second signature")
		l.Say = words.Say("Nothing can be added now. A supervisor who took no part checks it.")
	case commissioning.Released:
		l.Look, l.Icon, l.Word = "seal", "seal", words.Say("Released")
		l.Say = words.Say("Certificate %s stands for this run.", string(v.Run.Certificate))
	case commissioning.Abandoned:
		l.Word, l.Say = words.Say("Abandoned"), words.Plain(v.Run.EndReason)
	}
}

func (v RunView) leadProven(l *Lead) {
	hold := v.Exam.Assessment.Hold
	l.Number, l.Label = wholeMinutesDown(hold.Held), words.Say("held without a break")
	l.Look, l.Icon, l.Word = "ok", "met", words.Say("Hold complete")
	if hold.From != nil && hold.To != nil {
		l.Say = words.Say("Proven from %s to %s.", v.Clock(*hold.From), v.Clock(*hold.To))
	}
	l.Then = leaveRunning
	if next := v.nextOpenLine(); !next.Empty() {
		l.Then = words.Sentences(leaveRunning, next)
	}
}

func (v RunView) leadFault(l *Lead) {
	l.Look, l.Icon, l.Word = "bad", "stop", words.Say("Fault open")
	for _, f := range v.Exam.Faults {
		if f.ClearedBy == nil {
			l.Say = words.Say("%s fault since %s. Nothing counts until it is cleared.", faultName(f.Entry.Fault), v.Clock(f.Entry.ObservedAt))
			break
		}
	}
	l.Then = words.Say("Clear it, start the jet again, then wait for the next check in band.")
}

func (v RunView) leadRunning(l *Lead) {
	hold := v.Exam.Assessment.Hold
	ready := *hold.EarliestPass
	l.Ready, l.Label = &ready, words.Say("left in hold")
	l.Look, l.Icon, l.Word = "ok", "met", words.Say("In band, holding")
	if left := ready.Sub(v.Now); left > 0 {
		l.Number = wholeMinutes(left)
		l.Say = words.Say("Complete at %s if every check stays in band.", v.Clock(ceilMinute(ready)))
	} else {
		l.Number = "1"
		l.Word = words.Say("Waiting for the %s check", v.Clock(v.checkAt(ready)))
		l.Say = words.Say("The time is up; the next check in band proves it.")
	}
	if l.NextAt != nil && v.Now.Sub(*l.NextAt) > 30*time.Second {
		l.Look, l.Icon, l.Word = "warn", "look", words.Say("Check late")
		l.Say = words.Say("One was due at %s.", v.Clock(*l.NextAt))
		if gap := v.Series(v.Viscosity()).Quantity.MaxGap.D; gap > 0 {
			l.Say = words.Sentences(l.Say, words.Say("Without one by %s the hold starts again.", v.Clock(v.Last(v.Viscosity()).Entry.ObservedAt.Add(gap))))
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
	l.NextLabel = words.Text{}
	if v.jet() == "stopped" {
		l.Look, l.Icon, l.Word = "warn", "look", words.Say("Jet stopped")
		l.Say = words.Say("The hold starts with the first check in band after the next start.")
		return
	}
	l.Word, l.Say = words.Say("Not started"), words.Say("The hold starts with the first check in band after the first start.")
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
	l.Number, l.Label = wholeMinutesDown(held.To.Sub(held.From)), words.Say("held without a break")
	l.Look, l.Icon, l.Word = "warn", "look", words.Say("Needs a fresh reading")
	l.Say = words.Say("The hold was proven, but nothing was heard since %s.", v.Clock(held.To))
	l.Then = words.Say("One check in band of each condition is enough.")
}

func (v RunView) leadBroken(l *Lead) {
	hold := v.Exam.Assessment.Hold
	last := hold.Breaks[len(hold.Breaks)-1]
	l.Label = words.Say("of hold needed again")
	l.Look, l.Icon, l.Word = "bad", "stop", words.Say("Hold stopped")
	l.Say = words.Sentences(v.breakSentence(last), words.Say("Starts again with the next check in band."))
	l.Then = leaveRunning
	if last.Cause == "fault" || last.Cause == "started" {
		l.Then = words.Text{}
		return
	}
	v.leadForecast(l)
}

// breakSentence says what ended a hold, with the value that did it.
func (v RunView) breakSentence(b rules.Break) words.Text {
	if b.Cause == "out_of_tolerance" {
		for _, p := range v.Series(b.Condition).Points {
			if !p.Good && p.Entry.ObservedAt.After(b.At) {
				return outSentence(p, v.Clock(p.Entry.ObservedAt))
			}
		}
	}
	return b.Text
}

func (v RunView) leadSettling(l *Lead) {
	last := v.Last(v.Viscosity())
	if last == nil {
		l.Word, l.Say = words.Say("No check yet"), startsInBand
		l.Then = words.Say("Type the first reading, or wait for the unit's own.")
		return
	}
	if last.Good && !last.Late {
		l.Icon, l.Word = "part", words.Say("In band, not holding yet")
		if reasons := v.Exam.Assessment.Hold.Reasons; len(reasons) > 0 {
			l.Say = reasons[0].Text
		}
		return
	}
	l.Word = words.Say("Not in band yet")
	if last.Late {
		l.Word = words.Say("Last check came late")
	}
	l.Say = words.Sentences(outSentence(*last, v.Clock(last.Entry.ObservedAt)), startsInBand)
	l.Then = leaveRunning
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
func (v RunView) whileWaiting() words.Text {
	for _, c := range v.Exam.Containers {
		if c.Over {
			return words.Say("While you wait: empty the waste container.")
		}
	}
	for _, st := range v.Exam.Steps {
		if !st.Answered && st.Section == v.Here() && st.Step.Ask != commissioning.AskGate {
			return words.Say("While you wait: one line below is open.")
		}
	}
	return words.Sentences(words.Say("Nothing to do."), leaveRunning)
}

// nextOpenLine names the section of the first line without an answer.
func (v RunView) nextOpenLine() words.Text {
	for _, st := range v.Exam.Steps {
		if !st.Answered && st.Step.Ask != commissioning.AskGate {
			return words.Say("Next: %s.", v.Procedure.Sections[st.Section].Title)
		}
	}
	return words.Text{}
}
