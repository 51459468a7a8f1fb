package measure_test

import (
	"testing"

	"settlemark/internal/measure"
)

// The factors are those of NIST SP 811 (2008), appendix B.8: 1 psi is
// 6.894 757 kPa, 1 bar is 100 kPa, 1 US fluid ounce is 29.573 53 mL, 1 cP is
// 1 mPa s, and t/degF is 1.8 t/degC + 32.
func TestBeside(t *testing.T) {
	for _, c := range []struct {
		local             measure.Local
		value, unit, want string
	}{
		{measure.US, "12.5", "kPa", "1.8 psi"},
		{measure.US, "6.894757", "kPa", "1.000000 psi"},
		{measure.US, "300", "kPa", "44 psi"},
		{measure.Bar, "300", "kPa", "3.00 bar"},
		{measure.US, "29.57353", "mL", "1.000000 US fl oz"},
		{measure.US, "250", "mL", "8.5 US fl oz"},
		{measure.US, "100", "degC", "212 °F"},
		{measure.US, "-40.00", "degC", "-40.0 °F"},
		{measure.US, "21.3", "degC", "70 °F"},
		{measure.US, "4.50", "mPa.s", "4.50 cP"},
		{measure.US, "1.00", "bar", "15 psi"},
		{measure.Bar, "21.3", "degC", ""},
		{measure.SIOnly, "300", "kPa", ""},
		{measure.US, "44", "psi", ""},
		{measure.US, "ready", "kPa", ""},
		{measure.US, "1", "s", ""},
		{"", "300", "kPa", ""},
	} {
		got := ""
		if value, sign, ok := c.local.Beside(c.value, c.unit); ok {
			got = value + " " + sign
		}
		if got != c.want {
			t.Errorf("%s %s for %q: %q, wants %q", c.value, c.unit, c.local, got, c.want)
		}
	}
}
