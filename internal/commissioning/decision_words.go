package commissioning

import "fmt"

// DecisionInWords says how a value of the quantity is accepted, for pages and
// certificates.
func (q Quantity) DecisionInWords() string {
	if q.Decision != Guarded {
		return "simple acceptance: in when inside the limits, both limits in; uncertainty is not taken off"
	}
	factor := q.GuardFactor
	if factor == "" {
		factor = "1"
	}
	return fmt.Sprintf("guarded acceptance: in when inside the limits by %s times the expanded uncertainty", factor)
}

// InWords says how uncertain the instrument is; unit is that of the quantity as
// it is printed.
func (u Uncertainty) InWords(unit string) string {
	return "instrument's expanded uncertainty " + u.SizeInWords(unit)
}

// SizeInWords is the number of it: "2 % of the value, k = 2".
func (u Uncertainty) SizeInWords(unit string) string {
	k := u.K
	if k == "" {
		k = "2"
	}
	size := u.Percent + " % of the value"
	if u.Percent == "" {
		size = u.Absolute + " " + unit
	}
	return size + ", k = " + k
}
