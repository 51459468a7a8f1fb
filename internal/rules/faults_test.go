package rules_test

import "testing"

func TestFaults(t *testing.T) {
	play(t, bench, []scripted{
		{"no live start is pending", "08:00 ready yes", "faults:pending faults/not_started"},
		{"a start passes", "08:00 start", "faults:pass faultcount:0"},
		{"an open fault is pending", "08:00 start\n08:01 fault pressure", "faults:pending faultopen:2 faultcount:1"},
		{"a cleared fault with its ready state passes", "08:00 start\n08:01 fault pressure\n08:02 cleared 2\n08:03 ready yes", "faults:pass faultcount:1 !faultopen:*"},
		{"each kind may occur at_most times", "08:00 start\n08:01 fault pressure\n08:02 cleared 2\n08:03 fault pressure\n08:04 cleared 4\n08:05 ready yes", "faults:pass faultcount:2"},
		{
			"every occurrence beyond needs a decision",
			"08:00 start\n08:01 fault gutter\n08:02 cleared 2\n08:03 fault gutter\n08:04 cleared 4\n08:05 fault gutter\n08:06 cleared 6\n08:07 ready yes",
			"faults:needs_decision beyond:4 beyond:6 !beyond:2 needs:4/faults/beyond_expected needs:6/faults/beyond_expected verdict:blocked",
		},
		{
			"beyond goes by time and not by seq",
			"08:10 fault gutter\n08:11 cleared 1\n08:00 start\n08:01 fault gutter\n08:02 cleared 4\n08:20 ready yes", "beyond:1 !beyond:4",
		},
		{"kinds under others may not occur at all", "08:00 start\n08:01 fault charge\n08:02 cleared 2\n08:03 ready yes", "needs:2/faults/beyond_expected"},
		{"other may not occur at all", "08:00 start\n08:01 fault other note=smoke\n08:02 cleared 2\n08:03 ready yes", "needs:2/faults/beyond_expected"},
		{"an accepted occurrence passes and stays listed", "08:00 start\n08:01 fault charge\n08:02 cleared 2\n08:03 ready yes\n09:00 accept 2", "faults:pass beyond:2 !needs:*"},
		{"after the last clearing a state condition needs a good reading", "08:00 start\n08:00 ready yes\n08:01 fault pressure\n08:02 cleared 3", "faults:pending faults/not_ready_again"},
		{"a reading at the instant of the clearing is after it", "08:00 start\n08:01 fault pressure\n08:02 cleared 2\n08:02 ready yes", "faults:pass"},
		{"a bad state is not that reading", "08:00 start\n08:01 fault pressure\n08:02 cleared 2\n08:03 ready no", "faults/not_ready_again"},
		{"a bad state of the same instant beats that reading", "08:00 start\n08:01 fault pressure\n08:02 cleared 2\n08:03 ready no\n08:03 ready yes", "faults/not_ready_again"},
		{"a clearing before its fault clears nothing", "08:00 start\n08:05 fault pressure\n08:04 cleared 2\n08:06 ready yes", "faultopen:2"},
		{"a clearing at the instant of its fault clears it", "08:00 start\n08:05 fault pressure\n08:05 cleared 2\n08:06 ready yes", "!faultopen:* faults:pass"},
		{"each fault is taken at its earliest live clearing", "08:00 start\n08:01 fault pressure\n08:02 cleared 2\n08:03 ready yes\n08:04 cleared 2", "faults:pass"},
		{"a clearing may arrive before its fault", "08:00 start\n08:02 cleared 3\n08:01 fault pressure\n08:03 ready yes", "faults:pass"},
		{"a run whose last move is a stop is pending", "08:00 start\n08:05 stop", "faults:pending faults/stopped"},
		{"a run started again after a stop is not", "08:00 start\n08:05 stop\n08:06 start", "faults:pass"},
		{"of one instant the later seq is the last move", "08:00 start\n08:05 stop\n08:05 start", "faults:pass"},
		{"a stop alone is no start", "08:00 stop", "faults/not_started"},
		{"a late good state is no evidence", "08:00 start\n08:01 fault pressure\n08:02 cleared 2\n08:03 ready yes captured_at=08:30", "faults/not_ready_again"},
		{"a late good state counts when it is accepted", "08:00 start\n08:01 fault pressure\n08:02 cleared 2\n08:03 ready yes captured_at=08:30\n09:00 accept 4", "faults:pass"},
		{"a replaced fault is open until it is cleared anew", "08:00 start\n08:01 fault pressure\n08:02 cleared 2\n08:03 replace 2 08:01 fault gutter\n08:04 ready yes", "faultopen:4 !faultopen:2"},
		{"the replacement is cleared under its own seq", "08:00 start\n08:01 fault pressure\n08:02 cleared 2\n08:03 replace 2 08:01 fault gutter\n08:04 cleared 4\n08:05 ready yes", "faults:pass"},
		{
			"the last clearing is among live faults only",
			"08:00 start\n08:01 fault pressure\n08:02 cleared 2\n08:03 ready yes\n08:05 fault gutter\n08:06 cleared 5\n08:07 strike 5", "faults:pass",
		},
	})
}

func TestLate(t *testing.T) {
	start := "08:00 start\n"
	play(t, bench, []scripted{
		{"an entry is late when it was captured longer than late_after later", "08:00 viscosity 4.5 captured_at=08:10:01", "checks:0/3 !value:*"},
		{"late_after itself is not late", "08:00 viscosity 4.5 captured_at=08:10", "checks:1/3"},
		{"without captured_at it is timely", "08:00 viscosity 4.5", "checks:1/3"},
		{"received_at plays no part", "08:00 viscosity 4.5 received_at=2026-03-05T08:00:00Z", "checks:1/3"},
		{"an unproven clock counts as late", "08:00 viscosity 4.5 clock.proven=false", "checks:0/3"},
		{"a proven clock does not", "08:00 viscosity 4.5 clock.proven=true", "checks:1/3"},
		{"a late good reading is as if it were not there", "08:00 viscosity 4.5\n08:02 viscosity 4.6 captured_at=08:30", "checks:1/3 value:4.5"},
		{"a late bad one counts", "08:00 viscosity 4.5\n08:02 viscosity 5.2 captured_at=08:30", "checks:0/3 value:5.2"},
		{"an accepted late good one counts", "08:00 viscosity 4.5\n08:02 viscosity 4.6 captured_at=08:30\n08:40 accept 2", "checks:2/3 value:4.6"},
		{"a rejected late good one is only not there", "08:00 viscosity 4.5\n08:02 viscosity 4.6 captured_at=08:30\n08:40 reject 2", "checks:1/3 viscosity:pending !needs:*"},
		{"a late good reading bridges no gap", both("08:00") + "08:05 ready yes\n08:05 viscosity 4.5 captured_at=08:30\n" + both("08:10"), "from:08:10"},
		{"an accepted one bridges it", both("08:00") + "08:05 ready yes\n08:05 viscosity 4.5 captured_at=08:30\n" + both("08:10") + "08:40 accept 4\nat 08:10", "from:08:00"},
		{"a late bad reading breaks the hold", both("08:00", "08:05") + "08:06 ready no captured_at=09:00\n" + both("08:08"), "break:not_ready/ready@08:05"},
		{"a replacement inherits the lateness", start + "08:00 viscosity 4.4 captured_at=08:30\n08:31 replace 2 08:00 viscosity 4.5", "checks:0/3"},
		{
			"lateness goes on from replacement to replacement",
			start + "08:00 viscosity 4.4 captured_at=08:30\n08:31 replace 2 08:00 viscosity 4.5\n08:32 replace 3 08:00 viscosity 4.6", "checks:0/3",
		},
		{"a replacement may be late by itself", start + "08:00 viscosity 4.4\n08:31 replace 2 08:00 viscosity 4.5 captured_at=08:31", "checks:0/3"},
		{"an accepted replacement counts under its seq", start + "08:00 viscosity 4.4 captured_at=08:30\n08:31 replace 2 08:00 viscosity 4.5\n08:40 accept 3", "checks:1/3"},
		{"accepting the struck entry does not pass on", start + "08:00 viscosity 4.4 captured_at=08:30\n08:31 replace 2 08:00 viscosity 4.5\n08:40 accept 2", "checks:0/3"},
		{"a late start still counts", "08:00 start captured_at=09:00", "faults:pass"},
	})
}
