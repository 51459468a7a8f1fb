package rules_test

import (
	"fmt"
	"strings"
	"testing"
)

// both is a good reading of each condition at each instant.
func both(clocks ...string) string {
	var lines strings.Builder
	for _, clock := range clocks {
		fmt.Fprintf(&lines, "%s ready yes\n%s viscosity 4.50\n", clock, clock)
	}
	return lines.String()
}

// every gives good readings of both conditions each five minutes.
func every(from, to int) string {
	var clocks []string
	for m := from; m <= to; m += 5 {
		clocks = append(clocks, fmt.Sprintf("%02d:%02d", 8+m/60, m%60))
	}
	return both(clocks...)
}

func TestHold(t *testing.T) {
	play(t, bench, []scripted{
		{
			"held where all conditions are covered at once for the soak", "08:00 start\n" + every(0, 30),
			"hold:pass held:30m0s from:08:00 to:08:30 !break:* !earliest:*",
		},
		{
			"one second short of the soak is pending", "08:00 start\n" + every(5, 30) + both("08:34:59"),
			"hold:pending held:29m59s earliest:08:35 hold/soak_to_go",
		},
		{"a gap equal to max_gap is linked", both("08:00", "08:07", "08:14"), "held:14m0s from:08:00 !break:*"},
		{
			"gap longer than max_gap starts again", both("08:00", "08:05", "08:12:01", "08:15"),
			"held:2m59s from:08:12:01 break:gap/ready@08:05",
		},
		{"time counts only where it was observed", both("08:00", "08:30"), "held:0s from:08:30 !hold:pass"},
		{
			"a bad reading breaks and the end is the last instant covered",
			both("08:00", "08:05") + "08:08 ready yes\n08:08 viscosity 5.20\n" + both("08:10", "08:15"),
			"held:5m0s from:08:10 break:out_of_tolerance/viscosity@08:05",
		},
		{
			"a state that is not as required is a bad reading", both("08:00", "08:05") + "08:06 ready no\n" + both("08:10"),
			"break:not_ready/ready@08:05 held:0s from:08:10",
		},
		{
			"a bad reading beats a good one of the same instant",
			both("08:00", "08:05") + "08:05 viscosity 5.20\n" + both("08:10", "08:12"), "from:08:10 held:2m0s !break:*",
		},
		{
			"a fault between two readings unlinks them",
			both("08:00", "08:05") + "08:06 fault pressure\n08:07 cleared 5\n" + both("08:08", "08:10"),
			"break:fault/@08:05 from:08:08 held:2m0s",
		},
		{
			"a fault at the later reading unlinks", both("08:00", "08:05") + "08:08 fault pressure\n08:08 cleared 5\n" + both("08:08", "08:10"),
			"break:fault/@08:05 from:08:08",
		},
		{
			"a fault at the earlier reading leaves the link when it is cleared at once",
			"08:05 fault pressure\n08:05 cleared 1\n" + both("08:05", "08:10"), "from:08:05 held:5m0s !break:*",
		},
		{
			"no link while a fault is open", "08:00 fault pressure\n" + both("08:05", "08:10") + "08:12 cleared 1\n" + both("08:13", "08:15"),
			"from:08:13 held:2m0s !break:*",
		},
		{
			"a clearing at the earlier reading lets the link stand", "08:00 fault pressure\n08:05 cleared 1\n" + both("08:05", "08:10"),
			"from:08:05 held:5m0s",
		},
		{"no reading counts while a fault is open", "08:00 fault pressure\n" + both("08:05"), "held:0s !from:* hold/fault_open"},
		{
			"a start between two readings unlinks them", both("08:00", "08:05") + "08:06 start\n" + both("08:08"),
			"break:started/@08:05 from:08:08",
		},
		{"a start at the earlier reading leaves the link", "08:05 start\n" + both("08:05", "08:10"), "from:08:05 held:5m0s"},
		{
			"a stop between two readings unlinks them", both("08:00", "08:05") + "08:06 stop\n08:07 start\n" + both("08:08"),
			"break:stopped/@08:05 from:08:08",
		},
		{
			"from a stop to the next start nothing is covered", "08:00 stop\n" + both("08:05", "08:10") + "08:12 start\n" + both("08:13"),
			"from:08:13 held:0s !break:*",
		},
		{"a single good reading is covered at its instant", both("08:00"), "from:08:00 to:08:00 held:0s earliest:08:30"},
		{
			"conditions read at different instants hold where they overlap",
			"08:00 ready yes\n08:02 viscosity 4.5\n08:05 ready yes\n08:07 viscosity 4.5\n08:10 ready yes", "from:08:02 to:08:07 held:5m0s",
		},
		{"stretches that touch are joined", both("08:00", "08:05", "08:10", "08:15"), "from:08:00 held:15m0s !break:*"},
		{"a break of zero length is not listed", both("08:00") + "08:01 ready no\n" + both("08:02", "08:04"), "!break:* from:08:02"},
	})
}

func TestHoldBreaks(t *testing.T) {
	play(t, bench, []scripted{
		{"the cause is what came first after the end", both("08:00", "08:05") + "08:06 fault pressure\n08:07 ready no", "break:fault/@08:05"},
		{"silence that came before the bad reading is the cause", both("08:00", "08:05") + "08:20 ready no", "break:gap/ready@08:05"},
		{
			"silence up to the instant of judgement ends an interval", both("08:00", "08:05") + "at 08:13",
			"break:gap/ready@08:05 held:0s !from:* hold/gap",
		},
		{"the running interval is no break", both("08:00", "08:05") + "at 08:12", "!break:* held:5m0s from:08:00"},
		{
			"another condition that went bad ends it too", "08:00 ready yes\n08:00 viscosity 4.5\n08:05 viscosity 4.5\n08:05 ready yes\n08:08 ready yes\n08:10 ready no\nat 08:11",
			"break:not_ready/ready@08:05 held:0s",
		},
		{
			"each interval has its break", both("08:00", "08:05") + "08:06 ready no\n" + both("08:08", "08:10") + "08:11 stop\n08:11:30 start\n" + both("08:12"),
			"break:not_ready/ready@08:05 break:stopped/@08:10",
		},
	})
}

func TestHoldPass(t *testing.T) {
	complete := "08:00 start\n" + every(0, 30)
	play(t, bench, []scripted{
		{"a bad reading after the end undoes it", complete + "08:32 ready no\n" + both("08:34"), "hold:pending from:08:34 break:not_ready/ready@08:30"},
		{"a fault after the end undoes it", complete + "08:32 fault pressure\n08:33 cleared 16\n" + both("08:34"), "hold:pending held:0s from:08:34"},
		{"a start after the end undoes it", complete + "08:32 start\n" + both("08:34"), "hold:pending"},
		{"a stop after the end undoes it", complete + "08:32 stop", "hold:pending hold/stopped"},
		{"what comes after the instant of judgement does not", complete + "08:40 ready no\nat 08:35", "hold:pass ignored:16"},
		{"silence alone leaves it and the newest readings must be fresh", complete + "at 09:00", "hold:pass held:30m0s"},
		{
			"without a fresh reading it is pending", complete + "at 09:00:01",
			"hold:pending hold/needs_fresh_reading held:0s from:08:00 to:08:30 !earliest:*",
		},
		{"a fresh reading brings it back", complete + both("09:20"), "hold:pass from:08:00 to:08:30 break:gap/ready@08:30"},
		{"each condition needs a fresh reading", complete + "09:20 ready yes", "hold:pending hold/needs_fresh_reading"},
		{"of several the last is reported", complete + every(60, 95), "hold:pass from:09:00 to:09:35 held:35m0s"},
		{"a shorter interval after a complete one leaves it", complete + every(60, 70), "hold:pass from:08:00 to:08:30"},
	})
}

func TestHoldRunning(t *testing.T) {
	play(t, bench, []scripted{
		{"it runs to the earliest of the newest readings", both("08:00", "08:05") + "08:06 ready yes", "held:5m0s to:08:05 earliest:08:30"},
		{"nothing runs when a newest reading is bad", both("08:00", "08:05") + "08:06 viscosity 5.2", "held:0s !from:* !earliest:* hold/above_limit"},
		{"nothing runs when a newest reading is older than its max_gap", both("08:00", "08:05") + "08:10 ready yes\nat 08:12:01", "held:0s !earliest:*"},
		{"nothing runs after a start that no reading followed", both("08:00", "08:05") + "08:06 start", "held:0s !from:* break:started/@08:05"},
		{"a condition without a reading holds nothing", "08:00 ready yes", "held:0s !from:* hold/no_reading"},
		{"a running interval of length zero counts", both("08:00"), "from:08:00 held:0s earliest:08:30"},
		{"earliest_pass is printed only while the gate is pending", every(0, 35), "hold:pass !earliest:*"},
	})
}

func TestHoldGuarded(t *testing.T) {
	guarded := with(bench, `tolerance: {percent: "10"}}`, `tolerance: {percent: "10"}, uncertainty: {absolute: "0.1"}, decision: guarded}`)
	play(t, guarded, []scripted{
		{"a guarded quantity holds by its guard band", both("08:00", "08:05") + "08:08 viscosity 4.90", "break:out_of_tolerance/viscosity@08:05 hold/inside_guard_band"},
	})
	play(t, with(bench, "max_gap: 7m, target: {value: \"4.50\"}", "max_gap: 4m, target: {value: \"4.50\"}"), []scripted{
		{"each condition has its own max_gap", both("08:00", "08:05"), "held:0s from:08:05 !break:*"},
	})
}
