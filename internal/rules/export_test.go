package rules

import (
	"slices"
	"time"

	"settlemark/internal/commissioning"
)

// HoldPass gives the hold pass alone over a logbook that is judged already, and
// the bare pass to hold it against: the longest good stretch of each condition
// without a gap, whatever the unit did.
func HoldPass(book commissioning.Logbook, at time.Time) (hold func() int, bare func() time.Duration) {
	r := readRecord(&book, at)
	all := r.observe(r.gauges())
	m := r.machine()
	hold = func() int { return len(r.holding(m, all).spans) }
	var held []*series
	for _, s := range all {
		if slices.Contains(book.Procedure.Gates.Hold.Conditions, s.q.Key) {
			held = append(held, s)
		}
	}
	bare = func() time.Duration {
		var longest time.Duration
		for _, s := range held {
			longest = max(longest, s.longest())
		}
		return longest
	}
	return hold, bare
}

func (s *series) longest() time.Duration {
	var longest time.Duration
	var from, last time.Time
	for _, seen := range s.evidence {
		at := seen.entry.ObservedAt
		if !seen.good || at.Sub(last) > s.q.MaxGap.D {
			from = at
		}
		last = at
		longest = max(longest, last.Sub(from))
	}
	return longest
}
