package rules_test

import "testing"

func TestViscosity(t *testing.T) {
	play(t, bench, []scripted{
		{
			"three good readings the spacing apart pass", "08:00 viscosity 4.50\n08:02 viscosity 4.60\n08:04 viscosity 4.62",
			"viscosity:pass checks:3/3 value:4.62 target:4.50 lower:4.05 upper:4.95 deviation:2.67",
		},
		{
			"three readings typed within a minute are one check", "08:00 viscosity 4.50\n08:00:20 viscosity 4.50\n08:00:50 viscosity 4.50",
			"viscosity:pending checks:1/3 viscosity/more_checks",
		},
		{"a good reading closer than the spacing is passed over", "08:00 viscosity 4.5\n08:01 viscosity 4.5\n08:02 viscosity 4.5\n08:04 viscosity 4.5", "checks:3/3"},
		{"the spacing itself is enough", "08:00 viscosity 4.5\n08:02 viscosity 4.5", "checks:2/3"},
		{"one second less than the spacing is not", "08:00:01 viscosity 4.5\n08:02 viscosity 4.5", "checks:1/3"},
		{"the spacing counts from the last one counted", "08:00 viscosity 4.5\n08:01 viscosity 4.5\n08:02:30 viscosity 4.5", "checks:2/3"},
		{"a bad one ends the walk", "08:00 viscosity 4.5\n08:02 viscosity 4.5\n08:04 viscosity 5.2\n08:06 viscosity 4.5\n08:08 viscosity 4.5", "checks:2/3"},
		{"a bad one ends the walk even when it is closer than the spacing", "08:00 viscosity 4.5\n08:03 viscosity 5.2\n08:04 viscosity 4.5", "checks:1/3"},
		{
			"the latest reading being bad leaves no check", "08:00 viscosity 4.5\n08:02 viscosity 4.5\n08:04 viscosity 5.10",
			"checks:0/3 viscosity:pending viscosity/above_limit value:5.10 deviation:13.33",
		},
		{"bad comes after good of the same instant", "08:00 viscosity 4.5\n08:02 viscosity 5.2\n08:02 viscosity 4.5", "checks:0/3 value:5.2"},
		{"of one instant the larger seq is the later", "08:02 viscosity 4.5\n08:02 viscosity 4.6", "value:4.6"},
		{"the latest is by observed_at and not by seq", "08:04 viscosity 4.7\n08:02 viscosity 4.5\nat 08:05", "value:4.7"},
		{"checks stops at required", "08:00 viscosity 4.5\n08:02 viscosity 4.5\n08:04 viscosity 4.5\n08:06 viscosity 4.5", "checks:3/3"},
		{"no reading yet prints no numbers", "08:00 start", "viscosity:pending viscosity/no_reading !value:* !target:* !lower:* checks:0/3"},
		{"faults and starts do not end the walk", "08:00 viscosity 4.5\n08:01 fault pressure\n08:02 viscosity 4.5\n08:03 start\n08:04 viscosity 4.5", "checks:3/3"},
	})
}

func TestDecisionRule(t *testing.T) {
	simple := with(bench, `tolerance: {percent: "10"}}`, `tolerance: {percent: "10"}, uncertainty: {percent: "2", k: 2}}`)
	guarded := with(simple, "k: 2}}", "k: 2}, decision: guarded}")
	play(t, simple, []scripted{
		{"simple accepts on the limit", "08:00 viscosity 4.95", "checks:1/3 p:0.5"},
		{"simple refuses beyond it", "08:00 viscosity 4.9500001", "checks:0/3"},
		{"the probability is given for a simple decision too", "08:00 viscosity 4.62", "p:1"},
	})
	play(t, guarded, []scripted{
		// 2 % of 4.85 is 0.097, so the upper limit is 4.853; of 4.86 it is 0.0972 and 4.8528.
		{"guarded keeps the guard band from the limits", "08:00 viscosity 4.85", "checks:1/3"},
		{"percent uncertainty is percent of the value read", "08:00 viscosity 4.86", "checks:0/3 viscosity/inside_guard_band"},
		{"guarded refuses beyond the limit as such", "08:00 viscosity 4.96", "checks:0/3 viscosity/above_limit"},
	})
	absolute := with(guarded, `{percent: "2", k: 2}`, `{absolute: "0.1", k: 2}`)
	play(t, absolute, []scripted{
		{"the guard band's own end is in", "08:00 viscosity 4.85", "checks:1/3"},
		{"just beyond the guard band is out", "08:00 viscosity 4.8500001", "checks:0/3"},
		{"the lower limit is guarded as well", "08:00 viscosity 4.1499", "checks:0/3"},
		// u = 0.1/2; Φ((4.95−4.90)/0.05) = Φ(1) = 0.841345 (from memory; tables of the normal distribution).
		{"the probability is that of the unguarded limits", "08:00 viscosity 4.90", "p:0.841345"},
	})
	play(t, with(absolute, "decision: guarded}", `decision: guarded, guard_factor: "0.5"}`), []scripted{
		{"guard_factor widens or narrows the guard band", "08:00 viscosity 4.90", "checks:1/3"},
		{"guard_factor is one unless given", "08:00 viscosity 4.9001", "checks:0/3"},
	})
	play(t, with(absolute, ", k: 2}", "}"), []scripted{
		{"k is two unless given", "08:00 viscosity 4.90", "p:0.841345"},
	})
	play(t, bench, []scripted{
		{"without an uncertainty there is no probability", "08:00 viscosity 4.90", "!p:*"},
	})
}

func TestNumbers(t *testing.T) {
	play(t, bench, []scripted{
		{"both limits are in", "08:00 viscosity 4.05\n08:02 viscosity 4.95", "checks:2/3"},
		{"a ten-millionth above is out", "08:00 viscosity 4.9500001", "checks:0/3"},
		{"a ten-millionth below is out", "08:00 viscosity 4.0499999", "checks:0/3"},
		{"a target is printed as it was typed and limits exact", "08:00 viscosity 4.500", "target:4.50 value:4.500 lower:4.05 upper:4.95 deviation:0.00"},
		{"deviation rounds half-even to two decimals", "08:00 viscosity 4.500225", "deviation:0.00"},
		{"deviation rounds half-even up to the even neighbour", "08:00 viscosity 4.500675", "deviation:0.02"},
		{"deviation below the target is negative", "08:00 viscosity 4.41", "deviation:-2.00"},
		{"a reading may come in cP", "08:00 viscosity 4.950 cP", "checks:1/3 value:4.950"},
		{"a reading may come in Pa.s", "08:00 viscosity 0.00495 Pa.s", "checks:1/3 value:4.95"},
		{"conversion is exact at the limit", "08:00 viscosity 0.0049500001 Pa.s", "checks:0/3"},
	})
	fixed := with(bench, `target: {value: "4.50"}, tolerance: {percent: "10"}`, `tolerance: {lower: "4.0", upper: "5.00"}`)
	play(t, fixed, []scripted{
		{"fixed limits need no target", "08:00 viscosity 5.00", "checks:1/3 lower:4.0 upper:5.00 !target:* !deviation:*"},
	})
	absolute := with(bench, `tolerance: {percent: "10"}`, `tolerance: {absolute: "0.4"}`)
	play(t, absolute, []scripted{
		{"an absolute tolerance lies about the target", "08:00 viscosity 4.10", "checks:1/3 lower:4.1 upper:4.9"},
	})
	pressure := with(bench, "{quantity: viscosity, checks", "{quantity: pressure, checks")
	play(t, pressure, []scripted{
		{"one psi is 6.894757293168361 kPa", "08:00 pressure 43.5 psi", "value:299.9219422528237035 checks:1/3"},
		{"a bar is 100 kPa", "08:00 pressure 3.15 bar", "value:315 checks:1/3"},
		{"a MPa is 1000 kPa", "08:00 pressure 0.3150001 MPa", "checks:0/3"},
	})
}

func TestCurve(t *testing.T) {
	curve := with(bench, `target: {value: "4.50"}`,
		`target: {by: temperature, curve: [{at: "15", value: "5.10"}, {at: "25", value: "4.20"}, {at: "35", value: "3.60"}]}`)
	play(t, curve, []scripted{
		{"a point of the curve gives its value", "08:00 temperature 25\n08:00 viscosity 4.20", "target:4.2000 checks:1/3 lower:3.78 upper:4.62"},
		// exp of the straight line in 1/T between 288.15 K and 298.15 K: computed apart with 50 digits.
		{"between points ln of the value is linear in one over T", "08:00 temperature 20\n08:00 viscosity 4.62", "target:4.6205 deviation:-0.01"},
		{"the target is rounded to four decimals and then exact", "08:00 temperature 20\n08:00 viscosity 5.08255", "upper:5.08255 checks:1/3"},
		{"there is no extrapolation above", "08:00 temperature 35.1\n08:00 viscosity 3.6", "checks:0/3 viscosity/outside_curve !target:*"},
		{"there is no extrapolation below", "08:00 temperature 14.9\n08:00 viscosity 5.1", "checks:0/3 viscosity/outside_curve"},
		{"the ends of the curve belong to it", "08:00 temperature 15\n08:00 viscosity 5.1\n08:02 temperature 35\n08:02 viscosity 3.6", "checks:2/3"},
		{"the temperature is the latest at or before", "08:00 temperature 15\n08:01 temperature 25\n08:02 viscosity 4.20\n08:03 temperature 35", "target:4.2000"},
		{"a temperature as old as its max_gap serves", "08:00 temperature 25\n08:07 viscosity 4.20", "checks:1/3"},
		{"an older one does not", "08:00 temperature 25\n08:07:01 viscosity 4.20", "checks:0/3 viscosity/no_temperature !target:*"},
		{"without any temperature it is not in tolerance", "08:00 viscosity 4.20", "checks:0/3 viscosity/no_temperature value:4.20"},
		{"a late temperature serves no target", "08:00 temperature 25 captured_at=08:30\n08:01 viscosity 4.20", "viscosity/no_temperature"},
		{"a late temperature leaves the one before it in place", "08:00 temperature 15\n08:01 temperature 25 captured_at=08:30\n08:02 viscosity 5.10", "target:5.1000"},
		{"a late temperature serves when it is accepted", "08:00 temperature 25 captured_at=08:30\n08:01 viscosity 4.20\n08:40 accept 1", "checks:1/3"},
		{"a temperature may come in degF or K", "08:00 temperature 77 degF\n08:00 viscosity 4.20\n08:02 temperature 298.15 K\n08:02 viscosity 4.20", "checks:2/3"},
	})
	limits := with(curve, `tolerance: {percent: "10"}`, `tolerance: {lower: "4.00", upper: "5.00"}`)
	play(t, limits, []scripted{
		{"fixed limits beside a curve still need the target", "08:00 viscosity 4.20", "checks:0/3 viscosity/no_temperature lower:4.00 upper:5.00 !target:*"},
		{"with the target found fixed limits decide", "08:00 temperature 25\n08:00 viscosity 5.00", "checks:1/3 target:4.2000"},
	})
}
