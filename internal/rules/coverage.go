package rules

import (
	"time"
)

// span is a closed stretch of time.
type span struct{ from, to time.Time }

func (s span) length() time.Duration { return s.to.Sub(s.from) }

// condition is one condition of the hold.
type condition struct {
	*series
	moments []*reading
	covered []span // by time; apart from one another
}

// moments is what a quantity showed, one reading an instant: of several the bad
// one, which stands last. Mostly there is one only, and the evidence serves as it is.
func (s *series) moments() []*reading {
	for i := 1; i < len(s.evidence); i++ {
		if s.evidence[i].at().Equal(s.evidence[i-1].at()) {
			return s.lastOfInstants()
		}
	}
	return s.evidence
}

func (s *series) lastOfInstants() []*reading {
	var list []*reading
	for i, seen := range s.evidence {
		if i+1 == len(s.evidence) || !s.evidence[i+1].at().Equal(seen.at()) {
			list = append(list, seen)
		}
	}
	return list
}

// walk goes through the machine's events and outages beside the moments of a
// condition, forward only.
type walk struct {
	m             *machine
	events, begun int // how many lie at or before the instant
}

func (w *walk) to(t time.Time) {
	for w.events < len(w.m.events) && !w.m.events[w.events].ObservedAt.After(t) {
		w.events++
	}
	for w.begun < len(w.m.outages) && !w.m.outages[w.begun].from.After(t) {
		w.begun++
	}
}

// out says whether an outage that has begun ends after an instant.
func (w *walk) out(t time.Time) bool {
	return w.begun > 0 && w.m.until[w.begun-1].After(t)
}

// cover finds where a condition is covered: on every link of two good readings,
// and at each good reading at which no fault is open.
func (m *machine) cover(s *series) *condition {
	c := &condition{series: s, moments: s.moments()}
	w := walk{m: m}
	for i, now := range c.moments {
		events := w.events
		if w.to(now.at()); !now.good || w.out(now.at()) {
			continue
		}
		if i > 0 && w.linked(c.moments[i-1], now, s.q.MaxGap.D, events) {
			c.covered[len(c.covered)-1].to = now.at()
			continue
		}
		c.covered = append(c.covered, span{now.at(), now.at()})
	}
	return c
}

// linked says whether two consecutive moments of a condition are linked, the
// walk being at the second; events is how many lay at or before the first.
func (w *walk) linked(a, b *reading, maxGap time.Duration, events int) bool {
	return a.good && w.events == events && b.at().Sub(a.at()) <= maxGap && !w.out(a.at())
}

// newest is the newest moment of a condition, nil when there is none.
func (c *condition) newest() *reading {
	if len(c.moments) == 0 {
		return nil
	}
	return c.moments[len(c.moments)-1]
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
