package demo_test

import (
	"slices"
	"testing"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/demo"
)

func TestDue(t *testing.T) {
	p, err := commissioning.ParseProcedure(demo.ShortSoak)
	if err != nil {
		t.Fatal(err)
	}
	start := time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC)
	entry := func(kind commissioning.Kind, after time.Duration) commissioning.Entry {
		return commissioning.Entry{Kind: kind, ObservedAt: start.Add(after), Via: "typed"}
	}
	reading := func(after time.Duration) commissioning.Entry {
		e := entry(commissioning.KindReading, after)
		e.Via = "logger"
		return e
	}
	fault := entry(commissioning.KindFault, 20*time.Second)
	cleared := entry(commissioning.KindFaultCleared, 40*time.Second)
	cleared.Ref = 2
	struck := entry(commissioning.KindCorrection, time.Minute)
	struck.Strikes = 1

	cases := []struct {
		name    string
		entries []commissioning.Entry
		after   time.Duration // of the look, since the start
		checks  []time.Duration
	}{
		{"nothing before the jet was started", nil, time.Minute, nil},
		{"each check since the start, none twice", []commissioning.Entry{entry(commissioning.KindStart, 0), reading(20 * time.Second)}, 45 * time.Second, []time.Duration{30 * time.Second, 40 * time.Second}},
		{"nothing while the jet is stopped", []commissioning.Entry{entry(commissioning.KindStart, 0), entry(commissioning.KindStop, 30*time.Second)}, time.Minute, nil},
		{"nothing after a start that was struck out", []commissioning.Entry{entry(commissioning.KindStart, 0), struck}, time.Minute, nil},
		{"nothing while a fault is open", []commissioning.Entry{entry(commissioning.KindStart, 0), fault}, 30 * time.Second, nil},
		{"on again once it is cleared and the jet restarted", []commissioning.Entry{entry(commissioning.KindStart, 0), fault, cleared, entry(commissioning.KindStart, 45*time.Second)}, time.Minute, []time.Duration{50 * time.Second, time.Minute}},
		{"no more than two minutes after an outage", []commissioning.Entry{entry(commissioning.KindStart, 0)}, 10*time.Minute + 5*time.Second, every(8*time.Minute+10*time.Second, 10*time.Minute)},
		{"after half an hour without a person, one in five minutes", []commissioning.Entry{entry(commissioning.KindStart, 0), reading(40 * time.Minute)}, 44 * time.Minute, nil},
		{"and that one is the newest", []commissioning.Entry{entry(commissioning.KindStart, 0), reading(40 * time.Minute)}, 45*time.Minute + 5*time.Second, []time.Duration{45 * time.Minute}},
		{"after a day without a person, nothing", []commissioning.Entry{entry(commissioning.KindStart, 0)}, 25 * time.Hour, nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			book := db.Book{Run: commissioning.Run{ID: "0195-000000000001"}, Entries: c.entries}
			book.Procedure.Procedure = p
			for i := range book.Entries {
				book.Entries[i].Seq = i + 1
			}
			var got []time.Duration
			for _, e := range demo.Due(book, start.Add(c.after)) {
				if e.Quantity == "viscosity" {
					got = append(got, e.ObservedAt.Sub(start))
				}
			}
			if !slices.Equal(got, c.checks) {
				t.Errorf("reported %v, want %v", got, c.checks)
			}
		})
	}
}

func every(from, to time.Duration) (all []time.Duration) {
	for at := from; at <= to; at += 10 * time.Second {
		all = append(all, at)
	}
	return all
}
