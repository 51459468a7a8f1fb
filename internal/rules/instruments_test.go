package rules_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"settlemark/internal/rules"
)

// The day of these cases is the 4th of March 2026.
const (
	inDate  = "instrument T-03 temperature 0.3 K 2 2026-03-04\n"
	overdue = "instrument T-03 temperature 0.3 K 2 2026-03-03\n"
)

func TestInstruments(t *testing.T) {
	play(t, bench, []scripted{
		{"an overdue instrument needs a decision on the first reading", overdue + "08:05 temperature 25\n08:02 temperature 25\n08:09 temperature 25", "steps:needs_decision needs:2/steps/instrument_overdue verdict:blocked"},
		{"the due day itself still counts", inDate + "08:00 temperature 25", "steps:pass"},
		{"only its own quantity is held against it", overdue + "08:00 viscosity 4.50\n08:00 pressure 300\n08:00 ready yes", "steps:pass"},
		{"without a reading there is nothing to decide", overdue + "08:00 start", "steps:pass"},
		{"a struck reading is none", overdue + "08:00 temperature 25\n08:05 strike 1", "steps:pass"},
		{"the replacement is the reading then", overdue + "08:00 temperature 25\n08:05 replace 1 08:00 temperature 26", "needs:2/steps/instrument_overdue"},
		{"accepted it is gone", overdue + "08:00 temperature 25\n09:00 accept 1", "steps:pass !needs:*"},
		{"rejected the gate fails", overdue + "08:00 temperature 25\n09:00 reject 1", "steps:fail steps/rejected"},
		{"a late reading counts against it too", overdue + "08:00 temperature 25 captured_at=08:30", "needs:1/steps/instrument_overdue"},
		{"no other gate knows of it", "instrument V-12 viscosity 0.1 mPa.s 2 2026-03-03\n08:00 start\n" + every(5, 45) + "at 08:45", "steps:needs_decision viscosity:pass hold:pass faults:pass fluids:pass"},
		{"two of a kind both answer for a reading", overdue + "instrument T-04 temperature 1 K 2 2026-03-01\n08:00 temperature 25", "needs:1/steps/instrument_overdue"},
		// Dublin and UTC are the same in March, so the day of the site turns at the same instant.
		{"before midnight of the due day it stands", inDate + "2026-03-04T23:59:59Z temperature 25\nat 2026-03-05T01:00:00Z", "steps:pass"},
		{"after midnight it does not", inDate + "2026-03-04T23:59:59Z temperature 25\n2026-03-05T00:00:00Z temperature 25\nat 2026-03-05T01:00:00Z", "needs:2/steps/instrument_overdue"},
	})
	steps := with(bench, "sections: []", `sections: [{title: One, steps: [{id: v, ask: value, quantity: pressure, text: V}]}]`)
	play(t, steps, []scripted{
		{"the value of a step counts as a reading does", "instrument P-08 pressure 1.5 kPa 2 2026-03-03\n08:00 done v 300 kPa", "needs:1/steps/instrument_overdue"},
	})
	t.Run("the day is that of the site", func(t *testing.T) {
		book := bookOf(t, bench, inDate+"2026-03-05T01:00:00Z temperature 25\nat 2026-03-05T02:00:00Z")
		book.Run.Site.TimeZone = "America/Halifax" // four hours behind, so still the 4th
		check(t, rules.Judge(book, book.At), "steps:pass")
	})
}

func TestInstrumentUncertainty(t *testing.T) {
	counted := with(bench, `tolerance: {percent: "10"}}`, `tolerance: {percent: "10"}, uncertainty: {percent: "2", k: 2}}`)
	play(t, counted, []scripted{
		{"as sure as the procedure counts with is enough", "instrument V-12 viscosity 2 % 2 2026-12-31\n08:00 viscosity 4.50", "steps:pass"},
		{"less sure needs a decision", "instrument V-12 viscosity 2.01 % 2 2026-12-31\n08:00 viscosity 4.50", "needs:1/steps/instrument_coarse"},
		{"it is compared at one and the same k", "instrument V-12 viscosity 3 % 3 2026-12-31\n08:00 viscosity 4.50", "steps:pass"},
		{"and so 2 % at k = 1 is not enough", "instrument V-12 viscosity 2 % 1 2026-12-31\n08:00 viscosity 4.50", "needs:1/steps/instrument_coarse"},
		// 2 % of 4.50 is 0.09, of 4.40 it is 0.088.
		{"an absolute one is compared at each value", "instrument V-12 viscosity 0.09 mPa.s 2 2026-12-31\n08:00 viscosity 4.50\n08:05 viscosity 4.40", "needs:2/steps/instrument_coarse"},
		{"in its own unit", "instrument V-12 viscosity 0.00009 Pa.s 2 2026-12-31\n08:00 viscosity 4.50\n08:05 viscosity 4.40", "needs:2/steps/instrument_coarse"},
		{"the procedure's uncertainty goes on deciding", "instrument V-12 viscosity 9 % 2 2026-12-31\n08:00 viscosity 4.95", "p:0.5 checks:1/3"},
		{"both findings may be about one reading", "instrument V-12 viscosity 9 % 2 2026-03-01\n08:00 viscosity 4.50\n09:00 accept 1", "steps:pass !needs:*"},
	})
	play(t, bench, []scripted{
		{"where the procedure counts with none there is nothing to compare", "instrument V-12 viscosity 50 % 2 2026-12-31\n08:00 viscosity 4.50", "steps:pass"},
	})
	degrees := with(bench, "unit: degC, max_gap: 7m", `unit: degC, max_gap: 7m, uncertainty: {absolute: "0.3"}`)
	play(t, degrees, []scripted{
		{"an uncertainty in K is as large in degC", "instrument T-03 temperature 0.3 K 2 2026-12-31\n08:00 temperature 25", "steps:pass"},
		{"in degF it is 1.8 times the number", "instrument T-03 temperature 0.54 degF 2 2026-12-31\n08:00 temperature 25\nat 09:00", "steps:pass"},
		{"and just above it is too much", "instrument T-03 temperature 0.55 degF 2 2026-12-31\n08:00 temperature 25", "needs:1/steps/instrument_coarse"},
	})
}

// Whatever is named, only the steps gate hears of it, and never to the better.
func TestInstrumentsInvariance(t *testing.T) {
	counted := with(bench, `tolerance: {percent: "10"}}`, `tolerance: {percent: "10"}, uncertainty: {percent: "2", k: 2}}`)
	t.Run("naming instruments changes no gate but the steps", func(t *testing.T) {
		blocked := 0
		rapid.Check(t, func(rt *rapid.T) {
			lines := number(anyRun(rt)) + "at 10:00"
			named := fmt.Sprintf("instrument V-12 viscosity %s %% 2 %s\n", rapid.SampledFrom([]string{"2", "3"}).Draw(rt, "uncertainty"),
				rapid.SampledFrom([]string{"2026-03-03", "2026-03-04"}).Draw(rt, "due"))
			before := judged(t, counted, lines)
			after := judged(t, counted, named+lines)
			if after.Steps.Verdict != rules.Pass {
				blocked++
				if after.Verdict != rules.Blocked {
					rt.Fatalf("%s with %v", after.Verdict, after.Steps)
				}
			}
			before.Steps, after.Steps, before.Verdict, after.Verdict = rules.StepsGate{}, rules.StepsGate{}, "", ""
			needs := func(d rules.DecisionNeeded) bool { return d.Gate == "steps" }
			after.DecisionsNeeded = slices.DeleteFunc(after.DecisionsNeeded, needs)
			if diff := cmp.Diff(before, after, cmpopts.EquateEmpty()); diff != "" {
				rt.Fatal(diff)
			}
		})
		if blocked == 0 {
			t.Error("no instrument was found wanting, so this shows nothing")
		}
	})
	t.Run("one in date and sure enough changes nothing", func(t *testing.T) {
		rapid.Check(t, func(rt *rapid.T) {
			lines := number(anyRun(rt)) + "at 10:00"
			before, after := judged(t, counted, lines), judged(t, counted, "instrument V-12 viscosity 2 % 2 2026-03-04\n"+lines)
			if diff := cmp.Diff(before, after); diff != "" {
				rt.Fatal(diff)
			}
		})
	})
	t.Run("a good reading with an overdue instrument breaks no completed hold", func(t *testing.T) {
		passes := 0
		rapid.Check(t, func(rt *rapid.T) {
			lines := anyRun(rt)
			const named = "instrument V-12 viscosity 9 % 2 2026-03-03\n"
			if judged(t, counted, named+number(lines)+"at 10:00").Hold.Verdict != rules.Pass {
				return
			}
			passes++
			minute := rapid.IntRange(0, 119).Draw(rt, "minute")
			lines = append(lines, fmt.Sprintf("%02d:%02d:00 viscosity 4.50", 8+minute/60, minute%60))
			if after := judged(t, counted, named+number(lines)+"at 10:00"); after.Hold.Verdict != rules.Pass {
				rt.Fatalf("%s after minute %d", after.Hold.Verdict, minute)
			}
		})
		if passes == 0 {
			t.Error("no hold was complete, so this shows nothing")
		}
	})
	t.Run("the order of arrival decides nothing", func(t *testing.T) {
		rapid.Check(t, func(rt *rapid.T) {
			const named = "instrument V-12 viscosity 2.1 % 2 2026-03-03\n"
			lines := anyRun(rt)
			turned := slices.Clone(lines)
			slices.Reverse(turned)
			before, after := judged(t, counted, named+number(lines)+"at 10:00"), judged(t, counted, named+number(turned)+"at 10:00")
			if diff := cmp.Diff(before.Steps, after.Steps); diff != "" {
				rt.Fatal(diff)
			}
		})
	})
}

func judged(t testing.TB, procedure, lines string) rules.Assessment {
	book := bookOf(t, procedure, lines)
	return rules.Judge(book, book.At)
}
