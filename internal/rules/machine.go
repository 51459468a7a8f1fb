package rules

import (
	"slices"
	"sort"
	"time"

	"settlemark/internal/commissioning"
)

// fault is a live fault with its earliest live clearing, nil while open.
type fault struct {
	entry   *commissioning.Entry
	cleared *commissioning.Entry
}

// outage is a stretch in which nothing is covered: from a fault to its
// clearing, from a stop to the next start. It holds its beginning, not its end.
type outage struct{ from, to time.Time }

// machine is what starts, stops and faults say of the unit.
type machine struct {
	faults  []*fault               // by (observed_at, seq)
	moves   []*commissioning.Entry // starts and stops by (observed_at, seq)
	events  []*commissioning.Entry // starts, stops and faults by (observed_at, seq)
	outages []outage               // by from
	until   []time.Time            // the latest end among outages[:i+1]
}

// never ends an outage that goes on.
var never = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC)

func (r *record) machine() *machine {
	m := &machine{}
	clearings := map[int][]*commissioning.Entry{}
	for _, e := range r.byTime {
		switch e.Kind {
		case commissioning.KindFault:
			m.faults = append(m.faults, &fault{entry: e})
			m.events = append(m.events, e)
		case commissioning.KindStart, commissioning.KindStop:
			m.moves = append(m.moves, e)
			m.events = append(m.events, e)
		case commissioning.KindFaultCleared:
			clearings[e.Ref] = append(clearings[e.Ref], e)
		}
	}
	for _, f := range m.faults {
		f.clear(clearings[f.entry.Seq])
	}
	m.findOutages()
	return m
}

// clear takes the earliest clearing that is not before the fault.
func (f *fault) clear(clearings []*commissioning.Entry) {
	for _, c := range clearings {
		if !c.ObservedAt.Before(f.entry.ObservedAt) {
			f.cleared = c
			return
		}
	}
}

func (m *machine) findOutages() {
	for _, f := range m.faults {
		to := never
		if f.cleared != nil {
			to = f.cleared.ObservedAt
		}
		m.outages = append(m.outages, outage{f.entry.ObservedAt, to})
	}
	next := never // the start after the stop in hand
	for i := len(m.moves) - 1; i >= 0; i-- {
		if m.moves[i].Kind == commissioning.KindStart {
			next = m.moves[i].ObservedAt
			continue
		}
		m.outages = append(m.outages, outage{m.moves[i].ObservedAt, next})
	}
	slices.SortStableFunc(m.outages, func(a, b outage) int { return a.from.Compare(b.from) })
	latest := time.Time{}
	for _, o := range m.outages {
		if o.to.After(latest) {
			latest = o.to
		}
		m.until = append(m.until, latest)
	}
}

// eventAfter gives the first start, stop or fault after an instant, nil when none.
func (m *machine) eventAfter(t time.Time) *commissioning.Entry {
	first := sort.Search(len(m.events), func(i int) bool { return m.events[i].ObservedAt.After(t) })
	if first == len(m.events) {
		return nil
	}
	return m.events[first]
}

// stopped says whether the last start or stop is a stop.
func (m *machine) stopped() bool {
	return len(m.moves) > 0 && m.moves[len(m.moves)-1].Kind == commissioning.KindStop
}

// started says whether the jet was ever started.
func (m *machine) started() bool {
	return slices.ContainsFunc(m.moves, func(e *commissioning.Entry) bool {
		return e.Kind == commissioning.KindStart
	})
}

// open lists the faults without a clearing.
func (m *machine) open() []*fault {
	var list []*fault
	for _, f := range m.faults {
		if f.cleared == nil {
			list = append(list, f)
		}
	}
	return list
}
