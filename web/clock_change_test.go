package web_test

import (
	"strings"
	"testing"
	"time"

	"settlemark/internal/urls"
)

// setBack is when the clocks of a place went back last: the first instant whose
// time of day was shown before.
func setBack(zone *time.Location, now time.Time) time.Time {
	offset := func(at time.Time) int { _, s := at.In(zone).Zone(); return s }
	at := now.Truncate(time.Hour)
	for offset(at) >= offset(at.Add(-time.Hour)) {
		at = at.Add(-time.Hour)
	}
	return at
}

// On the night in which the clocks go back, every time of the hour that comes
// twice says which of the two it is; in order and minutes nothing changes.
func TestClocksGoBack(t *testing.T) {
	b := newBench(t)
	zone, err := time.LoadLocation(b.works.TimeZone)
	b.must(err)
	turn := setBack(zone, b.clock)
	b.clock = turn.Add(-2 * time.Hour)
	who := b.as("engineer")
	b.start(who)
	b.until(who, "First flush")
	read := func(at time.Time, value string) {
		t.Helper()
		b.clock = at
		b.reads(who, "viscosity", value).taken()
	}
	read(turn.Add(-90*time.Minute), "4.40")
	read(turn.Add(-30*time.Minute), "4.50")
	day := turn.In(zone).Format(time.DateOnly)
	t.Run("a_time_typed_while_the_hour_is_shown_first_is_of_then", func(t *testing.T) {
		b.reads(who, "viscosity", "4.51", "taken_day", day, "taken_at", "01:20", "taken_why", "hands full").taken()
		if e := b.last(); !e.ObservedAt.Equal(turn.Add(-40 * time.Minute)) {
			t.Errorf("%s", e.ObservedAt)
		}
	})
	read(turn.Add(30*time.Minute), "4.52")
	t.Run("and_typed_while_it_is_shown_again_of_that_hour", func(t *testing.T) {
		b.reads(who, "viscosity", "4.53", "taken_day", day, "taken_at", "01:20", "taken_why", "hands full").taken()
		if e := b.last(); !e.ObservedAt.Equal(turn.Add(20 * time.Minute)) {
			t.Errorf("%s", e.ObservedAt)
		}
	})
	t.Run("each_page_says_which_of_the_two", func(t *testing.T) {
		run := who.get(urls.Run(b.run))
		run.wants(200, "01:30 UTC+0", "00:30")
		table := run.page().Find("table").Text()
		for _, at := range []string{"01:30 UTC+1", "01:20 UTC+1", "01:30 UTC+0", "01:20 UTC+0"} {
			if !strings.Contains(table, at) {
				t.Errorf("no %s in the table of readings: %s", at, table)
			}
		}
		drawn := run.page().Find("svg[data-t0]").First()
		if said := drawn.Find("desc").Text(); !strings.Contains(said, "from 4.40 at 00:30 to 4.52 at 01:30 UTC+0") {
			t.Errorf("the chart says %q", said)
		}
		if axis := drawn.Find("text").Text(); !strings.Contains(axis, "now 01:30 UTC+0") {
			t.Errorf("the axis says %q", axis)
		}
		who.get(urls.Logbook(b.run)).reads(day+" 01:30:00 UTC+1", day+" 01:30:00 UTC+0")
		b.as("quality").get(urls.TrailPattern).reads("observed " + day + " 01:20:00 UTC+1")
	})
	t.Run("before_and_after_that_hour_the_clock_is_enough", func(t *testing.T) {
		b.clock = turn.Add(90 * time.Minute)
		text := who.get(urls.Run(b.run)).text()
		for _, plain := range []string{"00:30 UTC", "02:30 UTC"} {
			if strings.Contains(text, plain) {
				t.Errorf("the page says %q", plain)
			}
		}
	})
}
