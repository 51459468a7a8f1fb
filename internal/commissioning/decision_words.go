package commissioning

import (
	"strconv"

	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// DecisionInWords says how a value of the quantity is accepted, for pages and
// certificates.
func (q Quantity) DecisionInWords() words.Text {
	if q.Decision != Guarded {
		return words.Say("simple acceptance: in when inside the limits, both limits in; uncertainty is not taken off")
	}
	factor := q.GuardFactor
	if factor == "" {
		factor = "1"
	}
	return words.Say("guarded acceptance: in when inside the limits by %s times the expanded uncertainty", words.Number(factor))
}

// ProbabilityInWords prints 6 significant digits, and never 1 for what only
// rounds to it nor a power of ten for what is next to nothing.
func ProbabilityInWords(p float64) words.Text {
	switch {
	case p > 0.99999:
		return words.Say("over %s", words.Number("0.99999"))
	case p < 0.00001:
		return words.Say("under %s", words.Number("0.00001"))
	}
	return words.Say("%s", words.Number(strconv.FormatFloat(measure.Significant(p), 'f', -1, 64)))
}

// InWords says how uncertain the instrument is; unit is that of the quantity as
// it is printed.
func (u Uncertainty) InWords(unit string) words.Text {
	return words.Say("instrument's expanded uncertainty %s", u.SizeInWords(unit))
}

// SizeInWords is the number of it: "2 % of the value, k = 2".
func (u Uncertainty) SizeInWords(unit string) words.Text {
	k := u.K
	if k == "" {
		k = "2"
	}
	if u.Percent == "" {
		return words.Say("%s %s, k = %s", words.Number(u.Absolute), unit, words.Number(k))
	}
	return words.Say("%s %% of the value, k = %s", words.Number(u.Percent), words.Number(k))
}
