package templates

import (
	"fmt"
	"time"

	"settlemark/internal/rules"
)

// What to look at when a viscosity will not settle; common practice, no source.
const (
	checkAbove = "Check the make-up container: seated, not empty, the right code. Then the ink temperature."
	checkBelow = "Check for flush fluid left in the circuit and for the right ink. Then the ink temperature."
)

// leadForecast says where a quantity that is not in band is heading. It is
// advice: no gate asks for it.
func (v RunView) leadForecast(l *Lead) {
	f := v.Exam.Forecast(v.Viscosity())
	switch f.State {
	case rules.Settling:
		if when := v.expected(f); when != "" {
			l.Then += " " + when
		}
	case rules.WillNotSettle:
		l.Look, l.Icon, l.Word = "warn", "look", "Will not settle like this"
		side, check := "above the band", checkAbove
		if *f.Asymptote < f.LowerAccepted {
			side, check = "below the band", checkBelow
		}
		l.Say += fmt.Sprintf(" It is heading for %.3g, %s.", *f.Asymptote, side)
		l.Then = check
	}
}

// expected says when the band is reached if it goes on like this, "" when the
// curve names no time.
func (v RunView) expected(f rules.Forecast) string {
	if f.Enters == nil {
		return ""
	}
	if !f.Enters.After(v.Now) {
		return "Expected in band with one of the next checks, if it goes on like this."
	}
	about := "Expected in band about " + v.Clock(f.Enters.Round(time.Minute))
	early, late := f.Earliest.Truncate(time.Minute), ""
	if f.Latest != nil {
		late = v.Clock(ceilMinute(*f.Latest))
	}
	switch ahead := early.After(v.Now); {
	case late != "" && ahead:
		return fmt.Sprintf("%s, between %s and %s, if it goes on like this.", about, v.Clock(early), late)
	case late != "":
		return fmt.Sprintf("%s, by %s at the latest, if it goes on like this.", about, late)
	}
	return about + " if it goes on like this; it is too early to say by when at the latest."
}
