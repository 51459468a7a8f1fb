package templates

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"settlemark/internal/commissioning"
)

const (
	togetherWithin = time.Minute
	togetherAbove  = 3
)

// together counts the entries that a person typed within one minute after a
// silence longer than the procedure's limit for late entries: they were
// probably written down elsewhere first. It is a question, not a finding.
func (v ReviewView) together() int {
	var typed []time.Time
	for _, e := range v.Entries {
		if e.Via == "typed" && e.Kind != commissioning.KindDisposition {
			typed = append(typed, captured(e))
		}
	}
	slices.SortFunc(typed, time.Time.Compare)
	most := 0
	for i, start := range typed {
		if i > 0 && start.Sub(typed[i-1]) <= v.Procedure.LateAfter.D {
			continue
		}
		n := 0
		for _, at := range typed[i:] {
			if at.Sub(start) <= togetherWithin {
				n++
			}
		}
		most = max(most, n)
	}
	if most <= togetherAbove {
		return 0
	}
	return most
}

func captured(e commissioning.Entry) time.Time {
	if e.CapturedAt != nil {
		return *e.CapturedAt
	}
	return e.ObservedAt
}

func (v RunView) lastTaken() time.Time {
	last := v.Run.OpenedAt
	for _, e := range v.Entries {
		if e.ObservedAt.After(last) {
			last = e.ObservedAt
		}
	}
	return last
}

func sortedKeys[K cmp.Ordered, V any](m map[K]V) []K { return slices.Sorted(maps.Keys(m)) }
