package act_test

import (
	"fmt"
	"testing"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// Clocks go wrong: a tablet's by a day or an hour, the server's by a step back.
// What was received, and in which order, is the database's word alone.
func TestClocks(t *testing.T) {
	w := newWorld(t)
	r := w.open("U-1")
	t.Run("a_tablet_a_day_fast_is_refused_unless_its_offset_is_known", func(t *testing.T) {
		e := viscosity("4.60", 20)
		e.ObservedAt = evening.Add(24 * time.Hour)
		_, err := w.Record(t.Context(), author(w.engineer), r.ID, []commissioning.Entry{e}, evening)
		refused(t, err, problem.Invalid)
	})
	tablets := []struct {
		name          string
		fast          time.Duration // the tablet's clock
		server        time.Duration // the server's, against the true time
		offsetMS      int64
		observedShift time.Duration
	}{
		{"right", 0, 0, 0, 0},
		{"a day fast, corrected by its offset", 24 * time.Hour, 0, -24 * 3600 * 1000, 0},
		{"an hour slow", -time.Hour, 0, 0, -time.Hour},
		{"right, the server's clock has stepped back", 0, -90 * time.Minute, 0, -90 * time.Minute},
	}
	var seen []commissioning.Entry
	changed, sent := 0, 0
	for round := range 25 {
		for _, tablet := range tablets {
			e := viscosity("4.60", 20+round)
			e.ObservedAt = e.ObservedAt.Add(tablet.observedShift)
			captured, offset := e.ObservedAt.Add(2*time.Second), tablet.offsetMS
			e.CapturedAt = &captured
			e.Clock = &commissioning.Clock{Raw: captured.Add(tablet.fast).Format(time.RFC3339Nano), OffsetMS: &offset}
			_, err := w.Record(t.Context(), author(w.engineer), r.ID, []commissioning.Entry{e}, evening.Add(tablet.server))
			if err != nil {
				t.Fatalf("%s: %v", tablet.name, err)
			}
			sent++
		}
		book, err := w.db.Logbook(t.Context(), w.quality, r.ID)
		must(t, err)
		changed += moved(seen, book.Entries)
		seen = book.Entries
	}
	for i, e := range seen {
		if e.Seq != i+1 || i > 0 && e.ReceivedAt.Before(*seen[i-1].ReceivedAt) || e.Clock == nil || e.Clock.Raw == "" {
			t.Errorf("entry %d stands at %d, received %s, clock %v", e.Seq, i+1, e.ReceivedAt, e.Clock)
		}
		if d := time.Since(*e.ReceivedAt); d < 0 || d > time.Minute {
			t.Errorf("entry %d was received %s ago by its stamp: not the database's clock", e.Seq, d)
		}
	}
	fmt.Printf("figure: a tablet a day fast, one an hour slow, a server stepped back: %d entries by 4 clocks, orderings changed %d\n", sent, changed)
	if changed != 0 || len(seen) != sent {
		t.Errorf("%d orderings changed, %d of %d stored", changed, len(seen), sent)
	}
}

// moved counts the entries that no longer stand as they stood.
func moved(before, after []commissioning.Entry) int {
	n := 0
	for i, e := range before {
		if after[i].ID != e.ID || !after[i].ReceivedAt.Equal(*e.ReceivedAt) || !after[i].ObservedAt.Equal(e.ObservedAt) {
			n++
		}
	}
	return n
}
