package templates

import (
	"context"
	"fmt"
	"math"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// A time typed less than this after the fact is as good as "now".
const lateEnoughToShow = time.Minute

// wholeMinutes rounds up and never shows less than one.
func wholeMinutes(d time.Duration) string {
	return fmt.Sprint(max(1, int(math.Ceil(d.Minutes()))))
}

// wholeMinutesDown counts only full minutes: what is proven, not what is hoped.
func wholeMinutesDown(d time.Duration) string { return fmt.Sprint(int(d / time.Minute)) }

// minutesText counts in minutes however many, as the largest number of the page does.
func minutesText(d time.Duration) words.Text {
	if d%time.Minute == 0 {
		return words.Say("%d min", int(d/time.Minute))
	}
	if d < time.Minute {
		return words.Say("%d s", int(d/time.Second))
	}
	return words.Say("%d min %d s", int(d/time.Minute), int(d%time.Minute/time.Second))
}

// heldOf is how much of a soak is proven: "12 of 60 min", at first "40 s of 3 min".
func heldOf(held, soak time.Duration) words.Text {
	if 0 < held && held < time.Minute {
		return words.Say("%s of %s", minutesText(held), minutesText(soak))
	}
	return words.Say("%d of %s", int(held/time.Minute), minutesText(soak))
}

// clockLeft is minutes and seconds, for the next check only.
func clockLeft(d time.Duration) string {
	s := int(math.Ceil(d.Seconds()))
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

func ceilMinute(t time.Time) time.Time {
	if down := t.Truncate(time.Minute); !down.Equal(t) {
		return down.Add(time.Minute)
	}
	return t
}

// faultName is the word for a kind of fault: "over_temperature" reads
// "Over temperature".
func faultName(kind string) words.Text { return words.Capital(commissioning.FaultName(kind)) }

// judged says a sentence of the rules, its units as they are printed.
func judged(ctx context.Context, sentence words.Text) string {
	return measure.Signs(parts.Say(ctx, sentence))
}

// withUnit is a value that was recorded, in the unit that was recorded, with the
// reader's own beside it.
func withUnit(value, unit string) words.Text {
	return words.Say("%s", parts.Amount{Value: value, Unit: unit})
}

func percentText(value string) words.Text { return words.Say("%s %%", words.Number(value)) }

// outSentence says where a reading lies when it is not good.
func outSentence(p rules.Point, at string) words.Text {
	if p.Value == "" {
		return words.Capital(p.Why)
	}
	if p.Lower != "" && p.Upper != "" {
		switch {
		case less(p.Value, p.Lower):
			return words.Say("%s at %s is below %s.", words.Number(p.Value), at, words.Number(p.Lower))
		case less(p.Upper, p.Value):
			return words.Say("%s at %s is above %s.", words.Number(p.Value), at, words.Number(p.Upper))
		}
	}
	return words.Capital(p.Why)
}

// less compares two decimals that the rules have accepted already.
func less(a, b string) bool { return measure.Must(a).Cmp(measure.Must(b)) < 0 }
