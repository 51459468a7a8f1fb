package templates

import (
	"fmt"
	"math"
	"strings"
	"time"

	"settlemark/internal/measure"
	"settlemark/internal/rules"
)

// A time typed less than this after the fact is as good as "now".
const lateEnoughToShow = time.Minute

// wholeMinutes rounds up and never shows less than one.
func wholeMinutes(d time.Duration) string {
	return fmt.Sprint(max(1, int(math.Ceil(d.Minutes()))))
}

// wholeMinutesDown counts only full minutes: what is proven, not what is hoped.
func wholeMinutesDown(d time.Duration) string { return fmt.Sprint(int(d / time.Minute)) }

func minutesText(d time.Duration) string {
	if d%time.Minute == 0 {
		return fmt.Sprintf("%d min", int(d/time.Minute))
	}
	if d < time.Minute {
		return fmt.Sprintf("%d s", int(d/time.Second))
	}
	return fmt.Sprintf("%d min %d s", int(d/time.Minute), int(d%time.Minute/time.Second))
}

// heldOf is how much of a soak is proven: "12 of 60 min", at first "40 s of 3 min".
func heldOf(held, soak time.Duration) string {
	if 0 < held && held < time.Minute {
		return minutesText(held) + " of " + minutesText(soak)
	}
	return fmt.Sprintf("%d of %s", int(held/time.Minute), minutesText(soak))
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
func faultName(kind string) string { return sentenceCase(strings.ReplaceAll(kind, "_", " ")) }

func sentenceCase(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// outSentence says where a reading lies when it is not good.
func outSentence(p rules.Point, at string) string {
	if p.Value == "" {
		return sentenceCase(p.Why.String())
	}
	if p.Lower != "" && p.Upper != "" {
		switch {
		case less(p.Value, p.Lower):
			return fmt.Sprintf("%s at %s is below %s.", p.Value, at, p.Lower)
		case less(p.Upper, p.Value):
			return fmt.Sprintf("%s at %s is above %s.", p.Value, at, p.Upper)
		}
	}
	return sentenceCase(p.Why.String())
}

// less compares two decimals that the rules have accepted already.
func less(a, b string) bool { return measure.Must(a).Cmp(measure.Must(b)) < 0 }
