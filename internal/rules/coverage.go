package rules

import (
	"time"
)

// span is a closed stretch of time.
type span struct{ from, to time.Time }

func (s span) length() time.Duration { return s.to.Sub(s.from) }

// moment is what one condition showed at one instant: a bad reading beats a good one.
type moment struct {
	at   time.Time
	good bool
	bad  *reading // a bad reading of the instant
}

// condition is one condition of the hold.
type condition struct {
	*series
	moments []moment
	covered []span // by time; apart from one another
}

// moments joins the readings of each instant.
func (s *series) moments() []moment {
	var list []moment
	for _, seen := range s.evidence {
		at := seen.entry.ObservedAt
		if last := len(list) - 1; last < 0 || !list[last].at.Equal(at) {
			list = append(list, moment{at: at, good: true})
		}
		if !seen.good {
			last := &list[len(list)-1]
			last.good, last.bad = false, seen
		}
	}
	return list
}

// cover finds where a condition is covered: on every link of two good readings,
// and at each good reading at which no fault is open.
func (m *machine) cover(s *series) *condition {
	c := &condition{series: s, moments: s.moments()}
	for i, now := range c.moments {
		if !now.good || m.out(now.at, now.at) {
			continue
		}
		if i > 0 && m.linked(c.moments[i-1], now, s.q.MaxGap.D) {
			c.covered[len(c.covered)-1].to = now.at
			continue
		}
		c.covered = append(c.covered, span{now.at, now.at})
	}
	return c
}

// linked says whether two consecutive moments of a condition are linked.
func (m *machine) linked(a, b moment, maxGap time.Duration) bool {
	if !a.good || !b.good || b.at.Sub(a.at) > maxGap || m.out(a.at, b.at) {
		return false
	}
	event := m.eventAfter(a.at)
	return event == nil || event.ObservedAt.After(b.at)
}

// newest is the newest moment of a condition; false when there is none.
func (c *condition) newest() (moment, bool) {
	if len(c.moments) == 0 {
		return moment{}, false
	}
	return c.moments[len(c.moments)-1], true
}

// holdingSpans is where all conditions are covered at once.
func holdingSpans(conditions []*condition) []span {
	held := conditions[0].covered
	for _, c := range conditions[1:] {
		held = intersect(held, c.covered)
	}
	return held
}

// intersect walks two lists of spans once. Spans that lie apart meet in spans
// that lie apart, so nothing is left to join.
func intersect(a, b []span) []span {
	var out []span
	for len(a) > 0 && len(b) > 0 {
		from, to := a[0].from, a[0].to
		if b[0].from.After(from) {
			from = b[0].from
		}
		if b[0].to.Before(to) {
			to = b[0].to
		}
		if !from.After(to) {
			out = append(out, span{from, to})
		}
		if a[0].to.Before(b[0].to) {
			a = a[1:]
		} else {
			b = b[1:]
		}
	}
	return out
}
