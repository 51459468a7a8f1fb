package templates

import (
	"fmt"
	"time"

	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// What to look at when a viscosity will not settle; common practice, no source.
var (
	checkAbove = words.Say("Check the make-up container: seated, not empty, the right code. Then the ink temperature.")
	checkBelow = words.Say("Check for flush fluid left in the circuit and for the right ink. Then the ink temperature.")
)

// leadForecast says where a quantity that is not in band is heading. It is
// advice: no gate asks for it.
func (v RunView) leadForecast(l *Lead) {
	f := v.Exam.Forecast(v.Viscosity())
	switch f.State {
	case rules.Settling:
		l.Then = words.Sentences(l.Then, v.expected(f))
	case rules.WillNotSettle:
		l.Look, l.Icon, l.Word = "warn", "look", words.Say("Will not settle like this")
		towards := words.Number(fmt.Sprintf("%.3g", *f.Asymptote))
		where, check := words.Say("It is heading for %s, above the band.", towards), checkAbove
		if *f.Asymptote < f.LowerAccepted {
			where, check = words.Say("It is heading for %s, below the band.", towards), checkBelow
		}
		l.Say, l.Then = words.Sentences(l.Say, where), check
	}
}

// expected says when the band is reached if it goes on like this, nothing when
// the curve names no time.
func (v RunView) expected(f rules.Forecast) words.Text {
	if f.Enters == nil {
		return words.Text{}
	}
	if !f.Enters.After(v.Now) {
		return words.Say("Expected in band with one of the next checks, if it goes on like this.")
	}
	about := v.Clock(f.Enters.Round(time.Minute))
	early, late := f.Earliest.Truncate(time.Minute), ""
	if f.Latest != nil {
		late = v.Clock(ceilMinute(*f.Latest))
	}
	switch ahead := early.After(v.Now); {
	case late != "" && ahead:
		return words.Say("Expected in band about %s, between %s and %s, if it goes on like this.", about, v.Clock(early), late)
	case late != "":
		return words.Say("Expected in band about %s, by %s at the latest, if it goes on like this.", about, late)
	}
	return words.Say("Expected in band about %s if it goes on like this; it is too early to say by when at the latest.", about)
}
