package rules_test

import "testing"

func TestRecord(t *testing.T) {
	play(t, bench, []scripted{
		{"a struck entry takes no part in any rule", "08:00 viscosity 4.5\n08:02 viscosity 5.2\n08:03 strike 2", "checks:1/3 value:4.5"},
		{"a replacement stands in its place with its own observed_at", "08:00 viscosity 5.2\n08:10 replace 1 08:01 viscosity 4.5\n08:03 viscosity 4.6\nat 08:30", "checks:2/3 value:4.6"},
		{
			"striking a correction strikes its replacement and the first entry stays struck",
			"08:00 viscosity 4.5\n08:10 replace 1 08:01 viscosity 4.6\n08:11 strike 2", "checks:0/3 !value:*",
		},
		{"entries from after the instant are left out and named", "08:00 viscosity 4.5\n08:10 viscosity 4.6\n08:20 note\nat 08:05", "value:4.5 ignored:2 ignored:3 !ignored:1"},
		{"an entry at the instant itself is live", "08:00 viscosity 4.5\nat 08:00", "value:4.5 !ignored:*"},
		{"ignored never lists a struck entry", "08:00 viscosity 4.5\n08:10 viscosity 4.6\n08:11 strike 2\nat 08:05", "!ignored:*"},
		{"ignored never lists a disposition", "08:00 viscosity 4.5\n08:10 accept 1\nat 08:05", "!ignored:*"},
		{"ignored never lists a correction without a replacement", "08:00 viscosity 4.5\n08:10 strike 1\nat 08:05", "!ignored:* !value:*"},
		{"a replacement is ignored under its correction's seq", "08:00 viscosity 4.5\n08:01 replace 1 08:10 viscosity 4.6\nat 08:05", "ignored:2 !ignored:1 !value:*"},
		{"a correction acts whatever its own instant", "08:00 viscosity 4.5\n09:00 replace 1 08:01 viscosity 4.6\nat 08:05", "value:4.6 !ignored:*"},
		{"a disposition acts whatever its own instant", "08:00 start\n08:01 fault charge\n08:02 cleared 2\n08:03 ready yes\n10:00 accept 2\nat 08:05", "faults:pass"},
		{"a note and a photo decide nothing", "08:00 start\n08:01 note\n08:02 photo", "faults:pass steps:pass fluids:pass"},
		{
			"instants compare as instants whatever their offset",
			"2026-03-04T09:02:00+01:00 viscosity 4.5\n2026-03-04T08:00:00Z viscosity 4.6\n2026-03-04T06:04:00-02:00 viscosity 4.7\nat 08:05", "checks:3/3 value:4.7",
		},
	})
}

func TestDisposition(t *testing.T) {
	fault := "08:00 start\n08:01 fault charge\n08:02 cleared 2\n08:03 ready yes\n"
	play(t, bench, []scripted{
		{"an accept settles the finding", fault + "09:00 accept 2", "faults:pass"},
		{"a reject makes the gate fail", fault + "09:00 reject 2", "faults:fail verdict:blocked"},
		{"the last disposition is the one with the largest seq", fault + "10:00 accept 2\n09:00 reject 2", "faults:fail"},
		{"a struck disposition rules nothing", fault + "09:00 accept 2\n09:01 strike 5", "faults:needs_decision"},
		{"the disposition before a struck one counts again", fault + "09:00 accept 2\n09:01 reject 2\n09:02 strike 6", "faults:pass"},
		{"a replaced disposition rules under its correction's seq", fault + "09:00 reject 2\n09:01 replace 5 09:00 accept 2", "faults:pass"},
		{"a disposition of another entry settles nothing", fault + "09:00 accept 1", "faults:needs_decision"},
		{"in a gate the worst finding stands", "08:00 start\n08:01 fault charge\n08:02 fault charge\n09:00 reject 2", "faults:fail faults/fault_open needs:3/faults/beyond_expected"},
		{"a finding that needs a decision is worse than a pending one", "08:00 start\n08:01 fault charge", "faults:needs_decision"},
	})
}

func TestRunVerdict(t *testing.T) {
	play(t, bench, []scripted{
		{"releasable when every gate passes", "08:00 start\n" + every(0, 30), "verdict:releasable !needs:*"},
		{"not_yet when a gate is pending", "08:00 start\n" + every(0, 25), "verdict:not_yet"},
		{"blocked when a gate needs a decision", "08:00 start\n08:00 fault charge\n08:00 cleared 2\n" + every(0, 30), "verdict:blocked"},
		{"blocked when a gate fails", "08:00 start\n08:00 fault charge\n08:00 cleared 2\n" + every(0, 30) + "09:00 reject 2\nat 08:30", "verdict:blocked faults:fail"},
		{"a release is judged at its submission with the dispositions made afterwards", "08:00 start\n08:00 fault charge\n08:00 cleared 2\n" + every(0, 30) + "12:00 accept 2\nat 08:30", "verdict:releasable"},
	})
}
