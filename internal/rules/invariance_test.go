package rules_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// wordless leaves out the sentences, which name hours and typed values; codes stay.
func wordless(a rules.Assessment) rules.Assessment {
	for _, f := range []*rules.Finding{&a.Steps.Finding, &a.Fluids.Finding, &a.Faults.Finding, &a.Viscosity.Finding, &a.Hold.Finding} {
		f.Reasons = slices.Clone(f.Reasons)
		for i := range f.Reasons {
			f.Reasons[i].Text = words.Text{}
		}
	}
	a.Hold.Breaks = slices.Clone(a.Hold.Breaks)
	for i := range a.Hold.Breaks {
		a.Hold.Breaks[i].Text = words.Text{}
	}
	a.DecisionsNeeded = slices.Clone(a.DecisionsNeeded)
	for i := range a.DecisionsNeeded {
		a.DecisionsNeeded[i].Text = words.Text{}
	}
	return a
}

// shifted moves every instant of an assessment.
func shifted(a rules.Assessment, by time.Duration) rules.Assessment {
	a.At = a.At.Add(by)
	for _, t := range []**time.Time{&a.Hold.From, &a.Hold.To, &a.Hold.EarliestPass} {
		if *t != nil {
			moved := (*t).Add(by)
			*t = &moved
		}
	}
	for i := range a.Hold.Breaks {
		a.Hold.Breaks[i].At = a.Hold.Breaks[i].At.Add(by)
	}
	return a
}

func TestInvariance(t *testing.T) {
	t.Run("adding a good reading never breaks a completed hold", func(t *testing.T) {
		passes := 0
		rapid.Check(t, func(rt *rapid.T) {
			lines := anyRun(rt)
			if verdictOf(t, lines).Hold.Verdict != rules.Pass {
				return
			}
			passes++
			minute := rapid.IntRange(0, 119).Draw(rt, "good minute")
			good := rapid.SampledFrom([]string{"viscosity 4.95", "viscosity 4.50", "ready yes", "viscosity 4.5 captured_at=11:00"}).Draw(rt, "good")
			after := verdictOf(t, append(slices.Clone(lines), fmt.Sprintf("%02d:%02d:00 %s", 8+minute/60, minute%60, good)))
			if after.Hold.Verdict != rules.Pass {
				rt.Fatalf("%s after %s at minute %d\n%s", after.Hold.Verdict, good, minute, number(lines))
			}
		})
		if passes == 0 {
			t.Error("no hold was complete, so this shows nothing")
		}
	})
	t.Run("a shift of all instants leaves the verdict as it is", func(t *testing.T) {
		rapid.Check(t, func(rt *rapid.T) {
			book := bookOf(t, bench, number(anyRun(rt))+"at 10:00")
			by := time.Duration(rapid.Int64Range(-int64(1000*time.Hour), int64(1000*time.Hour)).Draw(rt, "shift"))
			before := shifted(wordless(rules.Judge(book, book.At)), by)
			for i := range book.Entries {
				e := &book.Entries[i]
				e.ObservedAt = e.ObservedAt.Add(by)
				if e.CapturedAt != nil {
					captured := e.CapturedAt.Add(by)
					e.CapturedAt = &captured
				}
			}
			if diff := cmp.Diff(before, wordless(rules.Judge(book, book.At.Add(by)))); diff != "" {
				rt.Fatalf("%v: %s", by, diff)
			}
		})
	})
	t.Run("another unit leaves the verdict as it is", func(t *testing.T) {
		moved := with(bench, `target: {value: "4.50"}`, `target: {by: temperature, curve: [{at: "15", value: "5.10"}, {at: "35", value: "3.90"}]}`)
		rapid.Check(t, func(rt *rapid.T) {
			procedure := rapid.SampledFrom([]string{bench, moved}).Draw(rt, "procedure")
			celsius := rapid.StringMatching(`[23][0-9]\.[0-9]`).Draw(rt, "celsius")
			book := bookOf(t, procedure, number(append(anyRun(rt), "08:00:00 temperature "+celsius))+"at 10:00")
			before := wordless(rules.Judge(book, book.At))
			for i := range book.Entries {
				if e := &book.Entries[i]; e.Kind == commissioning.KindReading && e.State == nil {
					kind, _ := measure.KindOf(e.Unit)
					unit := rapid.SampledFrom([]string{"mPa.s", "cP", "Pa.s"}).Draw(rt, "unit")
					if kind == measure.Temperature {
						unit = rapid.SampledFrom([]string{"degC", "K", "degF"}).Draw(rt, "unit")
					}
					value, _ := measure.Convert(measure.Must(e.Value), e.Unit, unit)
					e.Value, e.Unit = value.String(), unit
				}
			}
			after := wordless(rules.Judge(book, book.At))
			for _, a := range []*rules.Assessment{&before, &after} { // 4.50 comes back as 4.5
				if a.Viscosity.Value != "" {
					a.Viscosity.Value = measure.Must(a.Viscosity.Value).Reduced().String()
				}
			}
			if diff := cmp.Diff(before, after); diff != "" {
				rt.Fatal(diff)
			}
		})
	})
	t.Run("one thing wrong in an entry and the logbook is refused", func(t *testing.T) {
		wrongs := map[string]func(e map[string]any){
			"a misspelt field":          func(e map[string]any) { e["obsreved_at"] = e["observed_at"] },
			"a missing instant":         func(e map[string]any) { delete(e, "observed_at") },
			"an instant without offset": func(e map[string]any) { e["observed_at"] = "2026-03-04T08:00:00" },
			"a seq left out":            func(e map[string]any) { e["seq"] = e["seq"].(float64) + 1 },
			"an unknown kind":           func(e map[string]any) { e["kind"] = e["kind"].(string) + "s" },
			"a number for a text":       func(e map[string]any) { e["note"] = 7 },
		}
		names := slices.Sorted(maps.Keys(wrongs))
		rapid.Check(t, func(rt *rapid.T) {
			book := bookOf(t, bench, number(anyRun(rt))+"at 10:00")
			if len(book.Entries) == 0 {
				return
			}
			data, err := json.Marshal(book)
			if err != nil {
				rt.Fatal(err)
			}
			var loose map[string]any
			if err := json.Unmarshal(data, &loose); err != nil {
				rt.Fatal(err)
			}
			name := rapid.SampledFrom(names).Draw(rt, "wrong")
			entries := loose["entries"].([]any)
			wrongs[name](entries[rapid.IntRange(0, len(entries)-1).Draw(rt, "entry")].(map[string]any))
			if data, err = json.Marshal(loose); err != nil {
				rt.Fatal(err)
			}
			if _, err := commissioning.ParseLogbook(bytes.NewReader(data)); err == nil {
				rt.Fatalf("%s was taken\n%s", name, data)
			}
		})
	})
}
