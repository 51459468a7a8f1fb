package rules_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

func keysOf(t *testing.T, data []byte) []string {
	t.Helper()
	d := json.NewDecoder(strings.NewReader(string(data)))
	var keys []string
	depth, key := 0, true
	for {
		token, err := d.Token()
		if err != nil {
			return keys
		}
		switch token {
		case json.Delim('{'), json.Delim('['):
			depth++
		case json.Delim('}'), json.Delim(']'):
			depth--
		default:
			if depth == 1 && key {
				keys = append(keys, token.(string))
				key = false
				continue
			}
		}
		key = depth == 1
	}
}

func gateOf(t *testing.T, a rules.Assessment, i int) []string {
	t.Helper()
	var whole struct{ Gates []json.RawMessage }
	if err := json.Unmarshal(rules.Encode(a), &whole); err != nil {
		t.Fatal(err)
	}
	return keysOf(t, whole.Gates[i])
}

func TestEncode(t *testing.T) {
	book := bookOf(t, bench, "08:00 start\n"+every(0, 30))
	a := rules.Judge(book, book.At)
	t.Run("keys stand in the order of the layout", func(t *testing.T) {
		want := []string{"format", "rules", "at", "verdict", "ignored", "gates", "decisions_needed"}
		if diff := cmp.Diff(want, keysOf(t, rules.Encode(a))); diff != "" {
			t.Error(diff)
		}
	})
	t.Run("gates appear in their order with their keys", func(t *testing.T) {
		want := [][]string{
			{"gate", "verdict", "open", "reasons", "codes"},
			{"gate", "verdict", "reasons", "codes"},
			{"gate", "verdict", "count", "open", "beyond_expected", "reasons", "codes"},
			{"gate", "verdict", "value", "target", "lower", "upper", "deviation_percent", "checks", "required", "reasons", "codes"},
			{"gate", "verdict", "held_s", "required_s", "from", "to", "breaks", "reasons", "codes"},
		}
		for i := range want {
			if diff := cmp.Diff(want[i], gateOf(t, a, i)); diff != "" {
				t.Error(diff)
			}
		}
	})
	t.Run("lists are never null", func(t *testing.T) {
		if strings.Contains(string(rules.Encode(rules.Assessment{})), "null") {
			t.Error(string(rules.Encode(rules.Assessment{})))
		}
	})
	t.Run("the same logbook gives the same bytes", func(t *testing.T) {
		for range 20 {
			if again := rules.Encode(rules.Judge(book, book.At)); string(again) != string(rules.Encode(a)) {
				t.Fatal(string(again))
			}
		}
	})
	t.Run("the canonical logbook gives the same judgement", func(t *testing.T) {
		data, err := json.Marshal(book)
		if err != nil {
			t.Fatal(err)
		}
		again, err := commissioning.ParseLogbook(strings.NewReader(string(data)))
		if err != nil {
			t.Fatal(err)
		}
		if got := rules.Encode(rules.Judge(again, again.At)); string(got) != string(rules.Encode(a)) {
			t.Error(string(got))
		}
	})
	t.Run("instants are UTC and seconds are exact", func(t *testing.T) {
		from := time.Date(2026, 3, 4, 9, 0, 0, 500000000, time.FixedZone("", 3600))
		a := rules.Assessment{Hold: rules.HoldGate{Held: 1260*time.Second + 50*time.Millisecond, Required: 30 * time.Minute, From: &from}}
		for _, want := range []string{`"held_s":1260.05,"required_s":1800,"from":"2026-03-04T08:00:00.5Z"`} {
			if got := string(rules.Encode(a)); !strings.Contains(got, want) {
				t.Error(got)
			}
		}
	})
	t.Run("each reason has its code beside it", func(t *testing.T) {
		a := rules.Assessment{Fluids: rules.FluidsGate{Finding: rules.Finding{Verdict: rules.Pending, Reasons: []rules.Reason{{Code: "no_lot", Text: words.Say("No lot.")}}}}}
		if got := string(rules.Encode(a)); !strings.Contains(got, `"reasons":["No lot."],"codes":["no_lot"]`) {
			t.Error(got)
		}
	})
	t.Run("rules names the version", func(t *testing.T) {
		if !strings.Contains(string(rules.Encode(a)), `"rules":1,`) {
			t.Error(string(rules.Encode(a)))
		}
	})
	t.Run("the reasons of a gate are sentences in the site's time", func(t *testing.T) {
		summer := bookOf(t, bench, "2026-06-04T09:12:00Z viscosity 5.10")
		got := rules.Judge(summer, summer.At).Viscosity.Reasons[0].Text.String()
		if want := "Ink viscosity 5.10 mPa.s at 10:12 is above the upper limit 4.95. Leave the unit running and read again."; got != want {
			t.Error(got)
		}
	})
}

func TestExamination(t *testing.T) {
	lines := "08:00 start\n08:00 viscosity 4.5\n08:00 ready yes\n08:02 viscosity 4.6 captured_at=09:00\n08:03 viscosity 5.3\n08:03 ready yes\n08:05 replace 5 08:04 viscosity 4.4\n" +
		"08:06 fault gutter\n08:07 cleared 8\n08:08 load - ink K-21 none 2026-01-01 10\n09:30 accept 4\nat 08:10"
	book := bookOf(t, bench, lines)
	x := rules.Examine(book, book.At)
	t.Run("it carries the assessment that Judge gives", func(t *testing.T) {
		if diff := cmp.Diff(rules.Judge(book, book.At), x.Assessment); diff != "" {
			t.Error(diff)
		}
	})
	t.Run("live entries have replacements in place and no corrections or dispositions", func(t *testing.T) {
		var seqs []int
		for _, e := range x.Live {
			seqs = append(seqs, e.Seq)
		}
		if diff := cmp.Diff([]int{1, 2, 3, 4, 6, 7, 8, 9, 10}, seqs); diff != "" {
			t.Error(diff)
		}
	})
	t.Run("struck late and ruled entries are named", func(t *testing.T) {
		if x.Struck[5] != 7 || !x.Late[4] || x.Rulings[4].Seq != 11 {
			t.Error(x.Struck, x.Late, x.Rulings)
		}
	})
	t.Run("points show what was judged and which were counted", func(t *testing.T) {
		points := x.Series[1].Points
		var counted []bool
		for _, p := range points {
			counted = append(counted, p.Counts)
		}
		if diff := cmp.Diff([]bool{true, true, true}, counted); diff != "" {
			t.Error(diff)
		}
		if p := points[2]; p.Value != "4.4" || p.Target != "4.50" || p.Lower != "4.05" || p.Upper != "4.95" || !p.Good || p.Late {
			t.Error(p)
		}
	})
	t.Run("loads carry their problems and faults their clearing", func(t *testing.T) {
		if len(x.Loads) != 1 || len(x.Loads[0].Problems) != 3 {
			t.Error(x.Loads)
		}
		if len(x.Faults) != 1 || x.Faults[0].ClearedBy.Seq != 9 || !x.Faults[0].Expected {
			t.Error(x.Faults)
		}
	})
	t.Run("intervals carry why they ended", func(t *testing.T) {
		if len(x.Holds) != 1 || x.Holds[0].Cause != "fault" || x.Holds[0].Running {
			t.Error(x.Holds)
		}
	})
	t.Run("a container shows how full it is", func(t *testing.T) {
		p := checklistOf("  - {title: One, steps: [{id: d1, ask: drain, text: D, container: waste, capacity_ml: 1000, fill_at_most_percent: 80}]}\n")
		waste := bookOf(t, p, "08:00 drain d1 405")
		got := rules.Examine(waste, waste.At).Containers
		want := []rules.Container{{Name: "waste", CapacityML: "1000", LimitML: "800", VolumeML: "405", PercentFull: "40"}}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Error(diff)
		}
	})
	t.Run("a step that needs a decision is marked until it is decided", func(t *testing.T) {
		p := checklistOf("  - {title: One, steps: [{id: a, ask: confirm, text: A}, {id: b, ask: confirm, text: B}]}\n")
		for ruling, want := range map[string]bool{"": true, "09:00 accept 2\n": false} {
			book := bookOf(t, p, "08:05 done a\n08:04 done b\n"+ruling)
			if got := rules.Examine(book, book.At).Steps[1].NeedsDecision; got != want {
				t.Errorf("%q: %v", ruling, got)
			}
		}
	})
}
