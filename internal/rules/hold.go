package rules

import (
	"slices"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// holding is the hold gate at work.
type holding struct {
	r          *record
	m          *machine
	conditions []*condition
	spans      []span
	disturbed  time.Time // the last bad reading of a condition, fault, start or stop
}

func (r *record) holding(m *machine, all []*series) *holding {
	h := &holding{r: r, m: m}
	for _, key := range r.book.Procedure.Gates.Hold.Conditions {
		i := slices.IndexFunc(all, func(s *series) bool { return s.q.Key == key })
		h.conditions = append(h.conditions, m.cover(all[i]))
	}
	h.spans = holdingSpans(h.conditions)
	if len(m.events) > 0 {
		h.disturbed = m.events[len(m.events)-1].ObservedAt
	}
	for _, c := range h.conditions {
		for i := len(c.moments) - 1; i >= 0 && c.moments[i].at().After(h.disturbed); i-- {
			if !c.moments[i].good {
				h.disturbed = c.moments[i].at()
			}
		}
	}
	return h
}

// judge gives the gate, and the intervals longer than zero for charts.
func (h *holding) judge() (HoldGate, []Interval) {
	gate := h.r.book.Procedure.Gates.Hold
	out := HoldGate{Required: gate.Soak.D, Breaks: []Break{}}
	running, runs := h.running()
	complete, done := h.complete()
	var found []finding
	switch {
	case done && h.fresh(gate.FreshWithin.D):
		out.Held = complete.length()
		out.From, out.To = &complete.from, &complete.to
	case done:
		out.From, out.To = &complete.from, &complete.to
		found = h.stale(gate.FreshWithin.D)
	case runs:
		out.Held = running.length()
		out.From, out.To = &running.from, &running.to
		earliest := running.from.Add(gate.Soak.D)
		out.EarliestPass = &earliest
		found = append(found, pending("soak_to_go", "%s of soak still to go", words.Lasting(words.UpToMinute(gate.Soak.D-running.length()))))
	default:
		found = h.whyNot()
	}
	out.Finding, _ = h.r.settle(commissioning.GateHold, found)
	intervals := h.intervals(&out, running, runs)
	return out, intervals
}

// intervals lists every span longer than zero and the breaks of those that have ended.
func (h *holding) intervals(out *HoldGate, running span, runs bool) []Interval {
	list := []Interval{}
	for i, s := range h.spans {
		if s.length() == 0 {
			continue
		}
		interval := Interval{From: s.from, To: s.to, Enough: s.length() >= out.Required}
		if runs && i == len(h.spans)-1 && s == running {
			interval.Running = true
		} else {
			b := h.end(s.to)
			interval.Cause = b.Cause
			out.Breaks = append(out.Breaks, b)
		}
		list = append(list, interval)
	}
	return list
}

// complete is the last span at least as long as the soak after which nothing went wrong.
func (h *holding) complete() (span, bool) {
	for i := len(h.spans) - 1; i >= 0; i-- {
		s := h.spans[i]
		if h.disturbed.After(s.to) {
			break
		}
		if s.length() >= h.r.book.Procedure.Gates.Hold.Soak.D {
			return s, true
		}
	}
	return span{}, false
}

// fresh says whether the newest reading of every condition is good and young enough.
func (h *holding) fresh(within time.Duration) bool {
	for _, c := range h.conditions {
		newest := c.newest()
		if newest == nil || !newest.good || h.r.at.Sub(newest.at()) > within {
			return false
		}
	}
	return true
}

// running is the last span, if it still goes on.
func (h *holding) running() (span, bool) {
	if len(h.spans) == 0 {
		return span{}, false
	}
	last := h.spans[len(h.spans)-1]
	earliest := never
	for _, c := range h.conditions {
		newest := c.newest()
		if !newest.good || h.r.at.Sub(newest.at()) > c.q.MaxGap.D {
			return span{}, false
		}
		if newest.at().Before(earliest) {
			earliest = newest.at()
		}
	}
	return last, last.to.Equal(earliest) && !h.disturbed.After(last.to)
}
