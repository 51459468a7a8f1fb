package handlers_test

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"settlemark/handlers"
	"settlemark/internal/commissioning"
	"settlemark/templates"
)

func TestTakenEarlier(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	utc := func(text string) time.Time {
		at, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Fatal(err)
		}
		return at
	}
	for name, c := range map[string]struct {
		opened, now, day, clock string
		want                    string // an instant, or words of the refusal
	}{
		"is_read_in_site_time":                        {"2026-07-01T08:00:00Z", "2026-07-01T10:00:00Z", "2026-07-01", "10:07", "2026-07-01T09:07:00Z"},
		"takes_seconds":                               {"2026-07-01T08:00:00Z", "2026-07-01T10:00:00Z", "2026-07-01", "10:07:30", "2026-07-01T09:07:30Z"},
		"takes_one_digit_for_the_hour":                {"2026-07-01T07:00:00Z", "2026-07-01T10:00:00Z", "2026-07-01", "9:07", "2026-07-01T08:07:00Z"},
		"without_a_day_is_today_at_the_site":          {"2026-07-01T23:10:00Z", "2026-07-01T23:40:00Z", "", "00:20", "2026-07-01T23:20:00Z"},
		"of_yesterday":                                {"2026-07-01T20:00:00Z", "2026-07-02T00:40:00Z", "2026-07-01", "23:50", "2026-07-01T22:50:00Z"},
		"now_is_not_to_come":                          {"2026-07-01T08:00:00Z", "2026-07-01T10:00:00Z", "2026-07-01", "11:00", "2026-07-01T10:00:00Z"},
		"to_come_is_refused":                          {"2026-07-01T08:00:00Z", "2026-07-01T10:00:00Z", "2026-07-01", "11:01", "is still to come"},
		"before_the_run_is_refused":                   {"2026-07-01T08:00:00Z", "2026-07-01T10:00:00Z", "2026-07-01", "08:59", "before the run was opened"},
		"in_the_minute_of_the_opening_is_the_opening": {"2026-07-01T08:00:40Z", "2026-07-01T10:00:00Z", "2026-07-01", "09:00", "2026-07-01T08:00:40Z"},
		"in_the_hour_that_was_left_out_is_refused":    {"2026-03-28T20:00:00Z", "2026-03-29T10:00:00Z", "2026-03-29", "01:30", "the clocks went forward"},
		"in_the_hour_that_came_twice_is_the_later":    {"2026-10-24T20:00:00Z", "2026-10-25T10:00:00Z", "2026-10-25", "01:30", "2026-10-25T01:30:00Z"},
		"in_its_first_half_while_it_lasts":            {"2026-10-24T20:00:00Z", "2026-10-25T00:45:00Z", "2026-10-25", "01:30", "2026-10-25T00:30:00Z"},
		"a_word_is_refused":                           {"2026-07-01T08:00:00Z", "2026-07-01T10:00:00Z", "2026-07-01", "noon", "is no time of day"},
		"an_hour_that_is_none_is_refused":             {"2026-07-01T08:00:00Z", "2026-07-01T10:00:00Z", "2026-07-01", "25:00", "is no time of day"},
		"a_day_that_is_none_is_refused":               {"2026-07-01T08:00:00Z", "2026-07-01T10:00:00Z", "2026-02-30", "10:00", "is no time of day"},
	} {
		t.Run(name, func(t *testing.T) {
			v := templates.RunView{Run: commissioning.Run{OpenedAt: utc(c.opened)}, Now: utc(c.now), Zone: dublin}
			at, err := handlers.TakenAt(url.Values{"taken_day": {c.day}, "taken_at": {c.clock}}, v)
			got := at.UTC().Format(time.RFC3339)
			if err != nil {
				got = err.Error()
			}
			if !strings.Contains(got, c.want) {
				t.Errorf("%s, wants %s", got, c.want)
			}
		})
	}
}

// A number is typed with a comma or a point, whatever language the page is in,
// and stored with a point.
func TestDecimalIsReadWithEitherMark(t *testing.T) {
	for typed, want := range map[string]string{
		"4.52": "4.52", "4,52": "4.52", "-0,5": "-0.5", "250": "250", "4,50": "4.50",
		"1,234.5": "can be read in two ways", "1.234,5": "can be read in two ways", "1,2,3": "can be read in two ways", "1.2.3": "can be read in two ways",
		"4,5e2": "is no number", "four": "is no number", ",": "is no number", "": "Type the value",
	} {
		got, err := handlers.DecimalField(url.Values{"value": {typed}}, "value", "the value")
		if err != nil {
			got = err.Error()
		}
		if got != want && (err == nil || !strings.Contains(got, want)) {
			t.Errorf("%q: %q, wants %q", typed, got, want)
		}
	}
}
