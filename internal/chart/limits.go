package chart

import (
	"fmt"
	"math"
	"strings"

	"settlemark/internal/words"
)

// limits gives the band as the last reading met it, or as the quantity states
// it before the first. NaN stands for what there is not.
func (r run) limits() (lower, upper, target float64) {
	for i := len(r.readings) - 1; i >= 0; i-- {
		if p := r.readings[i]; !math.IsNaN(p.lo) && !math.IsNaN(p.hi) {
			return p.lo, p.hi, p.target
		}
	}
	lower, upper, target = math.NaN(), math.NaN(), math.NaN()
	q := r.series.Quantity
	if q.Target != nil {
		target = number(q.Target.Value)
	}
	if q.Tolerance == nil {
		return lower, upper, target
	}
	switch {
	case q.Tolerance.Percent != "":
		d := math.Abs(target) * number(q.Tolerance.Percent) / 100
		lower, upper = target-d, target+d
	case q.Tolerance.Absolute != "":
		d := number(q.Tolerance.Absolute)
		lower, upper = target-d, target+d
	default:
		lower, upper = number(q.Tolerance.Lower), number(q.Tolerance.Upper)
	}
	return lower, upper, target
}

// limitWords gives lower, upper and target as figures with what stands beside them.
func (r run) limitWords(o Options) (lower, upper, target [2]string) {
	lo, hi, t := r.limits()
	plus, minus := "", ""
	if tol := r.series.Quantity.Tolerance; tol != nil {
		switch {
		case tol.Percent != "":
			plus, minus = "+"+o.number(tol.Percent)+" %", "−"+o.number(tol.Percent)+" %"
		case tol.Absolute != "":
			plus, minus = "+"+o.number(tol.Absolute), "−"+o.number(tol.Absolute)
		default:
			plus, minus = words.Say("upper").In(o.Language), words.Say("lower").In(o.Language)
		}
	}
	target = [2]string{o.number(r.figure(t)), words.Say("target").In(o.Language)}
	return [2]string{o.number(r.figure(lo)), minus}, [2]string{o.number(r.figure(hi)), plus}, target
}

// figure writes a number with the decimals that the target has, at least as
// many as tell the limits apart from it.
func (r run) figure(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	text := strings.TrimRight(fmt.Sprintf("%.4f", v), "0")
	want := 0
	if q := r.series.Quantity; q.Target != nil {
		if _, after, ok := strings.Cut(q.Target.Value, "."); ok {
			want = len(after)
		}
	}
	whole, after, _ := strings.Cut(text, ".")
	if len(after) < want {
		after += strings.Repeat("0", want-len(after))
	}
	if after == "" {
		return whole
	}
	return whole + "." + after
}
