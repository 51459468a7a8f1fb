package words_test

import (
	"testing"
	"time"

	"settlemark/internal/words"
)

func TestLasting(t *testing.T) {
	for name, c := range map[string]struct {
		d               time.Duration
		exact, up, down string
	}{
		"nothing":                          {0, "0 s", "0 s", "0 s"},
		"seconds_while_there_is_no_minute": {41500 * time.Millisecond, "42 s", "42 s", "41 s"},
		"the_last_second_of_a_minute":      {59500 * time.Millisecond, "1 min", "1 min", "59 s"},
		"a_minute":                         {time.Minute, "1 min", "1 min", "1 min"},
		"minutes_and_seconds":              {36*time.Minute + 20*time.Second, "36 min 20 s", "37 min", "36 min"},
		"two_hours_in_minutes":             {2 * time.Hour, "120 min", "120 min", "120 min"},
		"more_in_hours":                    {2*time.Hour + time.Second, "2 h 0 min 1 s", "2 h 1 min", "120 min"},
		"days_in_hours":                    {50*time.Hour + 5*time.Minute, "50 h 5 min", "50 h 5 min", "50 h 5 min"},
	} {
		t.Run(name, func(t *testing.T) {
			exact, up, down := words.Lasting(c.d).String(), words.Lasting(words.UpToMinute(c.d)).String(), words.Lasting(words.DownToMinute(c.d)).String()
			if exact != c.exact || up != c.up || down != c.down {
				t.Errorf("%q, up %q, down %q; want %q, %q, %q", exact, up, down, c.exact, c.up, c.down)
			}
		})
	}
}
