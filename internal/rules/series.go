package rules

import (
	"cmp"
	"slices"
	"time"

	"settlemark/internal/commissioning"
)

// reading is one live reading as it was judged.
type reading struct {
	entry *commissioning.Entry
	measured
	late   bool // late and not accepted
	counts bool // one of the checks that the viscosity gate counted
}

func (m *reading) at() time.Time { return m.entry.ObservedAt }

// series is the live readings of one quantity.
type series struct {
	*gauge
	all      []*reading // by (observed_at, seq)
	evidence []*reading // without late good ones; by (observed_at, bad after good, seq)
}

// observe judges every live reading, one series a quantity.
func (r *record) observe(gauges []*gauge) []*series {
	all := make([]*series, len(gauges))
	byKey := map[string]*series{}
	for i, g := range gauges {
		all[i] = &series{gauge: g}
		byKey[g.q.Key] = all[i]
	}
	for _, e := range r.byTime {
		if e.Kind != commissioning.KindReading {
			continue
		}
		s := byKey[e.Quantity]
		seen := &reading{entry: e, measured: s.judge(e), late: r.late[e.Seq] && !r.accepted(e.Seq)}
		s.all = append(s.all, seen)
		if !seen.late || !seen.good {
			s.evidence = append(s.evidence, seen)
		}
	}
	for _, s := range all {
		slices.SortStableFunc(s.evidence, compareEvidence)
	}
	return all
}

// compareEvidence puts a bad reading after a good one of the same instant.
func compareEvidence(a, b *reading) int {
	return cmp.Or(a.entry.ObservedAt.Compare(b.entry.ObservedAt), cmp.Compare(rank(a.good), rank(b.good)))
}

func rank(good bool) int {
	if good {
		return 0
	}
	return 1
}

// show lists the readings for pages and charts.
func (s *series) show() Series {
	out := Series{Quantity: s.q, Points: make([]Point, len(s.all))}
	for i, seen := range s.all {
		p := Point{Entry: *seen.entry, Good: seen.good, Late: seen.late, Counts: seen.counts, Why: seen.why}
		if s.q.State == nil {
			p.Value = seen.value.Shown()
		}
		if seen.target != nil {
			p.Target = seen.target.Shown()
		}
		if seen.limits != nil {
			p.Lower, p.Upper = seen.limits.Lower.Shown(), seen.limits.Upper.Shown()
		}
		out.Points[i] = p
	}
	return out
}
