package words

import (
	"fmt"
	"time"
)

// Moment writes a local instant so that it means one: in the hour that a clock
// set back shows twice, the offset stands behind it.
func Moment(local time.Time, layout string) string {
	text := local.Format(layout)
	for _, other := range []time.Time{local.Add(-time.Hour), local.Add(time.Hour)} {
		if other.Format(layout) == text {
			return text + " " + Offset(local)
		}
	}
	return text
}

// Offset writes a local instant's distance from UTC: "UTC+1", "UTC+5:30".
func Offset(local time.Time) string {
	_, seconds := local.Zone()
	sign := '+'
	if seconds < 0 {
		sign, seconds = '-', -seconds
	}
	if minutes := seconds / 60 % 60; minutes != 0 {
		return fmt.Sprintf("UTC%c%d:%02d", sign, seconds/3600, minutes)
	}
	return fmt.Sprintf("UTC%c%d", sign, seconds/3600)
}
