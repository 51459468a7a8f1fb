package templates_test

import (
	"strings"
	"testing"
)

func TestForecastInTheLead(t *testing.T) {
	for name, c := range map[string]struct {
		values     []string
		minute     float64
		word, then string
	}{
		// 4.51 + 1.2·exp(−t/25 min) is 4.95 after 25 min; read to two digits, a minute later.
		"a_time_with_its_bounds_while_settling": {
			[]string{"5.71", "5.57", "5.45", "5.35", "5.25", "5.17"},
			76,
			"Not in band yet", "Leave the unit running. Expected in band about 12:56, between 12:54 and 12:58, if it goes on like this.",
		},
		"what_to_check_when_it_stays_above": {
			[]string{"6.50", "6.11", "5.82", "5.63", "5.49", "5.40", "5.34", "5.29", "5.26", "5.24"},
			88,
			"Will not settle like this", "Check the make-up container",
		},
		"what_to_check_when_it_stays_below": {
			[]string{"2.50", "2.89", "3.18", "3.37", "3.51", "3.60", "3.66", "3.71", "3.74", "3.76"},
			88,
			"Will not settle like this", "Check for flush fluid left in the circuit",
		},
		"nothing_when_the_readings_do_not_say": {
			[]string{"5.40", "5.40", "5.40", "5.40", "5.40", "5.40"}, 76, "Not in band yet", "Leave the unit running.",
		},
		"nothing_before_five_readings": {
			[]string{"5.71", "5.57", "5.45", "5.35"}, 70, "Not in band yet", "Leave the unit running.",
		},
	} {
		t.Run(name, func(t *testing.T) {
			l := tell(t).until("Settle").read(60, c.values...).view(c.minute).Lead()
			if l.Word.String() != c.word || !strings.HasPrefix(l.Then.String(), c.then) || l.Then.String() != c.then && strings.HasSuffix(c.then, "running.") {
				t.Errorf("%q: %q %q", l.Word, l.Say, l.Then)
			}
		})
	}
}
