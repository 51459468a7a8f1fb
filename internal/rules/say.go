package rules

import (
	"fmt"
	"time"
)

// clock writes an instant for a person at the site: 10:12, with the day in
// front when it is not the day of judgement.
func (r *record) clock(t time.Time) string {
	local := t.In(r.zone)
	if local.Format(time.DateOnly) == r.at.In(r.zone).Format(time.DateOnly) {
		return local.Format("15:04")
	}
	return local.Format("2 January 2006 15:04")
}

// lasting writes how long something still takes, rounded up.
func lasting(d time.Duration) string {
	switch {
	case d < time.Minute:
		return fmt.Sprintf("%d s", (d+time.Second-1)/time.Second)
	case d <= 2*time.Hour:
		return fmt.Sprintf("%d min", (d+time.Minute-1)/time.Minute)
	}
	minutes := (d + time.Minute - 1) / time.Minute
	return fmt.Sprintf("%d h %d min", minutes/60, minutes%60)
}
