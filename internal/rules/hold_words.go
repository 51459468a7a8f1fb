package rules

import (
	"cmp"
	"slices"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// Why an interval ended.
const (
	outOfTolerance = "out_of_tolerance"
	notReady       = "not_ready"
	gap            = "gap"
	faulted        = "fault"
	stopped        = "stopped"
	started        = "started"
)

// ending is one thing that ended an interval. Of one instant an event comes
// before a bad reading, and both before silence.
type ending struct {
	at   time.Time
	rank int
	b    Break
}

func (e *ending) before(other *ending) bool {
	return other == nil || cmp.Or(e.at.Compare(other.at), cmp.Compare(e.rank, other.rank)) < 0
}

// end says why a span ended: of all that went wrong after it, what came first.
// So the cause of a break stays the same as time goes on.
func (h *holding) end(to time.Time) Break {
	var first *ending
	for _, c := range h.conditions {
		if e := h.endOf(c, c.coveredUntil(to)); e != nil && e.before(first) {
			first = e
		}
	}
	first.b.At = to // there is one: a span that nothing has ended is running
	return first.b
}

// coveredUntil is how far the coverage that holds at t reaches.
func (c *condition) coveredUntil(t time.Time) time.Time {
	i, _ := slices.BinarySearchFunc(c.covered, t, func(s span, t time.Time) int { return s.to.Compare(t) })
	return c.covered[i].to
}

// endOf says what ended the coverage of one condition after its reading at to;
// nil when nothing has yet.
func (h *holding) endOf(c *condition, to time.Time) *ending {
	silent := to.Add(c.q.MaxGap.D)
	next := c.after(to)
	event := h.m.eventAfter(to)
	switch {
	case event != nil && !event.ObservedAt.After(silent) && (next == nil || !event.ObservedAt.After(next.at())):
		return h.byEvent(event)
	case next != nil && !next.at().After(silent):
		return h.byReading(c, next)
	case next != nil || h.r.at.After(silent):
		return &ending{silent, 2, Break{Cause: gap, Condition: c.q.Key, Text: words.Say(
			"No reading of %s for more than %s after %s. Silence is no evidence.", c.q.Label, limit(c.q.MaxGap), h.r.clock(to))}}
	}
	return nil
}

// after is the first moment later than t, nil when there is none.
func (c *condition) after(t time.Time) *reading {
	i, _ := slices.BinarySearchFunc(c.moments, t, func(m *reading, t time.Time) int {
		if m.at().After(t) {
			return 1
		}
		return -1
	})
	if i == len(c.moments) {
		return nil
	}
	return c.moments[i]
}

func (h *holding) byReading(c *condition, bad *reading) *ending {
	cause := outOfTolerance
	if c.q.State != nil {
		cause = notReady
	}
	return &ending{bad.entry.ObservedAt, 1, Break{Cause: cause, Condition: c.q.Key, Text: bad.why}}
}

func (h *holding) byEvent(e *commissioning.Entry) *ending {
	when := h.r.clock(e.ObservedAt)
	b := Break{Cause: started, Text: words.Say("The jet was started at %s.", when)}
	switch e.Kind {
	case commissioning.KindFault:
		b = Break{Cause: faulted, Text: words.Say("The unit reported a fault (%s) at %s.", faultKey(e.Fault), when)}
	case commissioning.KindStop:
		b = Break{Cause: stopped, Text: words.Say("The jet was stopped at %s.", when)}
	}
	return &ending{e.ObservedAt, 0, b}
}

// stale asks for fresh readings of a hold that is complete.
func (h *holding) stale(within time.Duration) []finding {
	var found []finding
	for _, c := range h.conditions {
		if newest := c.newest(); h.r.at.Sub(newest.at()) > within {
			found = append(found, pending("needs_fresh_reading", "The soak is complete but %s needs a fresh reading: the last one was at %s.",
				c.q.Label, h.r.clock(newest.at())))
		}
	}
	return found
}

// whyNot says why nothing is held at the moment, and what to do.
func (h *holding) whyNot() []finding {
	if len(h.m.open()) > 0 {
		return []finding{pending("fault_open", "A fault is open. Clear it; the soak starts again with the next readings.")}
	}
	if h.m.stopped() {
		return []finding{pending("stopped", "The jet is stopped. Start it; the soak starts again with the next readings.")}
	}
	var found []finding
	for _, c := range h.conditions {
		newest := c.newest()
		switch {
		case newest == nil:
			found = append(found, pending("no_reading", "No reading of %s yet. Take one.", c.q.Label))
		case !newest.good:
			found = append(found, pending(newest.code, "%s The soak starts again when it is good.", newest.why))
		case h.r.at.Sub(newest.at()) > c.q.MaxGap.D:
			found = append(found, pending("gap", "No reading of %s since %s, longer than %s. Take one; the soak starts again.",
				c.q.Label, h.r.clock(newest.at()), limit(c.q.MaxGap)))
		case h.disturbed.After(newest.at()):
			found = append(found, pending("wait_for_reading", "No reading of %s since what happened at %s. Take one.", c.q.Label, h.r.clock(h.disturbed)))
		}
	}
	if len(found) == 0 {
		found = append(found, pending("not_together", "The conditions have not been good at the same time yet. Read all of them."))
	}
	return found
}
