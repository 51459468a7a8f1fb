package rules_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// anyRun draws a run of up to two hours. Starts, stops and temperatures stand
// at seconds of their own: of one instant their seq decides, so there the order
// of arrival is part of what is recorded.
func anyRun(t *rapid.T) []string {
	var lines []string
	if rapid.Bool().Draw(t, "steady") { // or hardly any run would hold for the soak
		for line := range strings.Lines("08:00:30 start\n" + every(5, 115)) {
			lines = append(lines, strings.TrimSpace(line))
		}
	}
	steady := len(lines)
	for i := range rapid.IntRange(0, 30).Draw(t, "entries") {
		minute := rapid.IntRange(0, 119).Draw(t, "minute")
		clock := fmt.Sprintf("%02d:%02d:00", 8+minute/60, minute%60)
		own := fmt.Sprintf("%02d:%02d:%02d", 8+minute/60, minute%60, 1+i%59)
		value := rapid.SampledFrom([]string{"4.05", "4.50", "4.95", "4.96", "4.04"}).Draw(t, "value")
		late := rapid.SampledFrom([]string{"", "", "", " captured_at=11:00"}).Draw(t, "late")
		kinds := []string{
			clock + " viscosity " + value + late, clock + " viscosity 4.50", clock + " ready yes" + late, clock + " ready yes",
			clock + " ready no", clock + " fault pressure", clock + " fault gutter", own + " start", own + " stop",
		}
		lines = append(lines, rapid.SampledFrom(kinds).Draw(t, "line"))
		if words := strings.Fields(lines[steady+i]); words[1] == "fault" && rapid.Bool().Draw(t, "cleared") {
			lines[steady+i] += fmt.Sprintf("\n%s:40 cleared FAULT", words[0][:5])
		}
	}
	return lines
}

// number writes the lines with each clearing naming the seq of its fault.
func number(lines []string) string {
	var out strings.Builder
	seq := 0
	for _, line := range lines {
		seq++
		out.WriteString(strings.ReplaceAll(line, "FAULT", fmt.Sprint(seq)) + "\n")
		seq += strings.Count(line, "\n")
	}
	return out.String()
}

func verdictOf(t testing.TB, lines []string) rules.Assessment {
	book := bookOf(t, bench, number(lines)+"at 10:00")
	return rules.Judge(book, book.At)
}

// without leaves out what names a seq, for runs whose entries were renumbered.
func without(a rules.Assessment) rules.Assessment {
	a.Ignored, a.DecisionsNeeded, a.Faults.Open, a.Faults.BeyondExpected = nil, nil, nil, nil
	return a
}

func TestProperties(t *testing.T) {
	t.Run("the verdict depends only on the set", func(t *testing.T) {
		rapid.Check(t, func(rt *rapid.T) {
			lines := anyRun(rt)
			shuffled := slices.Clone(lines)
			random := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
			random.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
			before, after := without(verdictOf(t, lines)), without(verdictOf(t, shuffled))
			before.Faults.Reasons, after.Faults.Reasons = nil, nil // faults of one instant are named in seq order
			for _, a := range []*rules.Assessment{&before, &after} {
				for i := range a.Hold.Breaks { // so are events of one instant
					a.Hold.Breaks[i].Text = words.Text{}
				}
				a.Viscosity = rules.ViscosityGate{Finding: rules.Finding{Verdict: a.Viscosity.Verdict}, Checks: a.Viscosity.Checks}
				a.Hold.Reasons = nil
			}
			if diff := cmp.Diff(before, after); diff != "" {
				rt.Fatalf("%s\n%s", number(lines), diff)
			}
		})
	})
	t.Run("adding a bad reading never turns a gate to pass", func(t *testing.T) {
		rapid.Check(t, func(rt *rapid.T) {
			lines := anyRun(rt)
			minute := rapid.IntRange(0, 119).Draw(rt, "bad minute")
			bad := rapid.SampledFrom([]string{"viscosity 5.20", "ready no", "viscosity 5.20 captured_at=11:00"}).Draw(rt, "bad")
			before := verdictOf(t, lines)
			after := verdictOf(t, append(slices.Clone(lines), fmt.Sprintf("%02d:%02d:00 %s", 8+minute/60, minute%60, bad)))
			for name, pair := range map[string][2]rules.Verdict{
				"viscosity": {before.Viscosity.Verdict, after.Viscosity.Verdict},
				"hold":      {before.Hold.Verdict, after.Hold.Verdict},
				"faults":    {before.Faults.Verdict, after.Faults.Verdict},
			} {
				if pair[0] != rules.Pass && pair[1] == rules.Pass {
					rt.Fatalf("%s passes after a bad reading\n%s", name, number(lines))
				}
			}
		})
	})
	t.Run("striking a reading and adding it again is neutral", func(t *testing.T) {
		rapid.Check(t, func(rt *rapid.T) {
			book := bookOf(t, bench, number(anyRun(rt))+"at 10:00")
			readings := slices.DeleteFunc(slices.Clone(book.Entries), func(e commissioning.Entry) bool { return e.Kind != commissioning.KindReading })
			if len(readings) == 0 {
				return
			}
			again := rapid.SampledFrom(readings).Draw(rt, "reading")
			before := without(rules.Judge(book, book.At))
			next := len(book.Entries) + 1
			strike := commissioning.Entry{Seq: next, Kind: commissioning.KindCorrection, ObservedAt: book.At, Strikes: again.Seq, Reason: "mistyped"}
			again.Seq = next + 1
			book.Entries = append(book.Entries, strike, again)
			after := without(rules.Judge(book, book.At))
			if again.Quantity == "viscosity" { // of one instant the larger seq is shown
				before.Viscosity, after.Viscosity = rules.ViscosityGate{Checks: before.Viscosity.Checks}, rules.ViscosityGate{Checks: after.Viscosity.Checks}
				before.Hold, after.Hold = rules.HoldGate{Held: before.Hold.Held}, rules.HoldGate{Held: after.Hold.Held}
			}
			if diff := cmp.Diff(before, after); diff != "" {
				rt.Fatal(diff)
			}
		})
	})
}
