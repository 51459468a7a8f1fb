package rules

import (
	"cmp"
	"slices"
	"time"

	"settlemark/internal/commissioning"
)

// record is a logbook as it stands at one instant: what is struck and what
// comes later is left out, replacements are in place.
type record struct {
	book    *commissioning.Logbook
	at      time.Time
	zone    *time.Location
	live    []commissioning.Entry  // by seq
	byTime  []*commissioning.Entry // the same by (observed_at, seq)
	struck  map[int]int
	ignored []int
	late    map[int]bool
	rulings map[int]commissioning.Entry
}

func readRecord(book *commissioning.Logbook, at time.Time) *record {
	zone, err := time.LoadLocation(book.Run.Site.TimeZone)
	if err != nil { // ParseLogbook has refused it
		zone = time.UTC
	}
	r := &record{
		book: book, at: at, zone: zone,
		live:    make([]commissioning.Entry, 0, len(book.Entries)),
		struck:  map[int]int{},
		ignored: []int{},
		late:    map[int]bool{},
		rulings: map[int]commissioning.Entry{},
	}
	for i := range book.Entries {
		r.mark(&book.Entries[i])
	}
	for i := range book.Entries {
		r.sift(&book.Entries[i])
	}
	r.byTime = make([]*commissioning.Entry, len(r.live))
	for i := range r.live {
		r.byTime[i] = &r.live[i]
	}
	slices.SortFunc(r.byTime, compareTime)
	return r
}

// compareTime orders entries by (observed_at, seq).
func compareTime(a, b *commissioning.Entry) int {
	return cmp.Or(a.ObservedAt.Compare(b.ObservedAt), cmp.Compare(a.Seq, b.Seq))
}

// mark notes what an entry strikes and whether it is late. A replacement is
// late, too, when the entry that it replaces was.
func (r *record) mark(e *commissioning.Entry) {
	body := e
	if e.Kind == commissioning.KindCorrection {
		r.struck[e.Strikes] = e.Seq
		if body = e.Replacement; body == nil {
			return
		}
	}
	if r.isLate(body) || e.Kind == commissioning.KindCorrection && r.late[e.Strikes] {
		r.late[e.Seq] = true
	}
}

// isLate holds an entry's own times and clock against late_after.
func (r *record) isLate(e *commissioning.Entry) bool {
	if e.Clock != nil && e.Clock.Proven != nil && !*e.Clock.Proven {
		return true
	}
	return e.CapturedAt != nil && e.CapturedAt.Sub(e.ObservedAt) > r.book.Procedure.LateAfter.D
}

// sift puts an entry where it belongs: struck, ruling, ignored or live.
func (r *record) sift(e *commissioning.Entry) {
	body := *e
	if e.Kind == commissioning.KindCorrection {
		if e.Replacement == nil {
			return
		}
		body = *e.Replacement
		body.Seq = e.Seq
	}
	_, struck := r.struck[e.Seq]
	switch {
	case struck:
	case body.Kind == commissioning.KindDisposition:
		r.rulings[body.Ref] = body // the largest seq comes last
	case body.ObservedAt.After(r.at):
		r.ignored = append(r.ignored, e.Seq)
	default:
		r.live = append(r.live, body)
	}
}

// accepted says whether a supervisor accepted the entry.
func (r *record) accepted(seq int) bool {
	ruling, ok := r.rulings[seq]
	return ok && ruling.Decision == commissioning.Accept
}

// of lists the live entries of one kind by (observed_at, seq).
func (r *record) of(kind commissioning.Kind) []*commissioning.Entry {
	var list []*commissioning.Entry
	for _, e := range r.byTime {
		if e.Kind == kind {
			list = append(list, e)
		}
	}
	return list
}
