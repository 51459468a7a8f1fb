package parts_test

import (
	"errors"
	"net/url"
	"testing"
	"time"

	"settlemark/internal/problem"
	"settlemark/templates/parts"
)

func TestTimes(t *testing.T) {
	summer := time.Date(2026, 7, 1, 22, 30, 0, 0, time.UTC)
	winter := time.Date(2026, 12, 31, 23, 45, 0, 0, time.UTC)
	for _, c := range []struct {
		at   time.Time
		zone string
		want string
	}{ // offsets by the IANA database, which the program carries
		{summer, "Europe/Dublin", "2026-07-01 23:30, UTC+1"},
		{winter, "Europe/Dublin", "2026-12-31 23:45, UTC+0"},
		{summer, "America/Halifax", "2026-07-01 19:30, UTC-3"},
		{winter, "America/Halifax", "2026-12-31 19:45, UTC-4"},
		{winter, "Asia/Kolkata", "2027-01-01 05:15, UTC+5:30"},
		{winter, "Nowhere/None", "2026-12-31 23:45, UTC+0"},
	} {
		if got := parts.DayMinute(c.at, c.zone); got != c.want {
			t.Errorf("%s: %s, wants %s", c.zone, got, c.want)
		}
	}
}

func TestSpan(t *testing.T) {
	for d, want := range map[time.Duration]string{
		90 * time.Second: "90 s", 2 * time.Minute: "2 min", 90 * time.Minute: "90 min", 2 * time.Hour: "120 min",
		48 * time.Hour: "48 h", 180 * 24 * time.Hour: "180 days", 0: "0 min",
	} {
		if got := parts.Span(d).String(); got != want {
			t.Errorf("%s: %q, wants %q", d, got, want)
		}
	}
}

func TestAgo(t *testing.T) {
	now := time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)
	for back, want := range map[time.Duration]string{
		-time.Minute: "now", 30 * time.Second: "now", 41 * time.Minute: "41 min", 119 * time.Minute: "119 min",
		5 * time.Hour: "5 h", 72 * time.Hour: "3 days",
	} {
		if got := parts.Ago(now.Add(-back), now).String(); got != want {
			t.Errorf("%s ago: %q, wants %q", back, got, want)
		}
	}
}

func TestForm(t *testing.T) {
	f := parts.Form{
		Values: url.Values{"name": {"x"}, "roles": {"a", "b"}},
		Err:    errors.Join(problem.On("name", "Give a name."), problem.On("site", "Choose the site."), errors.New("not for people")),
	}
	t.Run("each_field_has_its_own_sentence", func(t *testing.T) {
		if f.Wrong("name").String() != "Give a name." || f.Wrong("site").String() != "Choose the site." || !f.Wrong("other").Empty() {
			t.Errorf("%q %q %q", f.Wrong("name"), f.Wrong("site"), f.Wrong("other"))
		}
	})
	t.Run("causes_that_are_not_for_people_are_left_out", func(t *testing.T) {
		if n := len(f.Problems()); n != 2 {
			t.Errorf("%d problems", n)
		}
	})
	t.Run("boxes_that_were_ticked_stay_ticked", func(t *testing.T) {
		if !f.Checked("roles", "b") || f.Checked("roles", "c") {
			t.Error("ticks are lost or made up")
		}
	})
}
