package rules_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
)

// Logbooks in these tests are written as lines, one entry each, all on the
// 4th of March 2026:
//
//	08:00 start                         08:10 fault pressure
//	08:03 viscosity 4.50                08:12 cleared 3
//	08:03 ready yes                     08:20 replace 4 08:03 viscosity 4.52
//	08:05 done jet-off                  08:20 strike 4
//	08:06 drain drain-1 400             17:00 accept 9
//	08:07 load ink-1 ink K-20 L77 2027-01-31 100
//
// A load without a step names "-". Fields at the end are added as they stand:
// captured_at=08:30 note=… clock.proven=false. The seq is the line's number.
// A line "instrument T-03 temperature 0.3 K 2 2026-03-03" names an instrument of
// the run. A line "at 10:30" gives the instant of judgement; else the latest of the lines.

// scripted is one case: lines, and what must be true of the assessment.
type scripted struct {
	name  string
	lines string
	want  string // tokens of describe; !token must be missing; token* is a beginning
}

const day = "2026-03-04T"

func instantOf(clock string) string {
	if strings.Contains(clock, "-") {
		return clock
	}
	if len(clock) == len("08:00") {
		clock += ":00"
	}
	return day + clock + "Z"
}

// bookOf reads lines into a logbook, through the parser that the product uses.
func bookOf(t testing.TB, procedure, lines string) commissioning.Logbook {
	t.Helper()
	p, err := commissioning.ParseProcedure([]byte(procedure))
	if err != nil {
		t.Fatalf("procedure: %v", err)
	}
	var at time.Time
	entries := []map[string]any{}
	run := map[string]any{
		"id":        "r-1",
		"unit":      map[string]any{"tag": "BH-01", "serial": "S-1", "ink": "K-20", "makeup": "K-20M"},
		"site":      map[string]any{"name": "Brackenhill", "time_zone": "Europe/Dublin"},
		"opened_at": instantOf("08:00"),
	}
	for line := range strings.Lines(lines) {
		words := strings.Fields(line)
		if len(words) == 0 {
			continue
		}
		instant, ok := commissioning.ParseInstant(instantOf(words[len(words)-1]))
		if words[0] == "at" && ok {
			at = instant // the last line
			break
		}
		if words[0] == "instrument" {
			named, _ := run["instruments"].([]any)
			run["instruments"] = append(named, map[string]any{
				"code": words[1], "name": "Instrument", "serial": "S-" + words[1], "quantity": words[2],
				"uncertainty": words[3], "unit": words[4], "k": words[5], "due": words[6],
			})
			continue
		}
		entry := entryOf(t, words)
		entry["seq"] = len(entries) + 1
		entries = append(entries, entry)
		if instant, _ = commissioning.ParseInstant(instantOf(words[0])); instant.After(at) {
			at = instant
		}
	}
	document, err := json.Marshal(map[string]any{
		"format":    "settlemark.logbook/1",
		"run":       run,
		"procedure": p,
		"entries":   entries,
		"at":        at,
	})
	if err != nil {
		t.Fatal(err)
	}
	book, err := commissioning.ParseLogbook(strings.NewReader(string(document)))
	if err != nil {
		t.Fatalf("%v\n%s", err, lines)
	}
	return book
}

// entryOf turns the words of a line into an entry without seq.
func entryOf(t testing.TB, words []string) map[string]any {
	t.Helper()
	e := map[string]any{"observed_at": instantOf(words[0])}
	words = words[1:]
	for last := len(words) - 1; words[0] != "replace" && last > 0 && strings.Contains(words[last], "="); last-- {
		addField(e, words[last])
		words = words[:last]
	}
	fill(t, e, words)
	return e
}

func addField(e map[string]any, word string) {
	key, value, _ := strings.Cut(word, "=")
	switch key {
	case "captured_at":
		e[key] = instantOf(value)
	case "clock.proven":
		e["clock"] = map[string]any{"proven": value == "true"}
	default:
		e[key] = strings.ReplaceAll(value, "_", " ")
	}
}

func fill(t testing.TB, e map[string]any, words []string) {
	t.Helper()
	set := func(kind string, pairs ...any) {
		e["kind"] = kind
		for i := 0; i < len(pairs); i += 2 {
			e[pairs[i].(string)] = pairs[i+1]
		}
	}
	number := func(word string) int {
		n, err := strconv.Atoi(word)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	switch words[0] {
	case "start", "stop":
		if set(words[0]); len(words) > 1 {
			e["step"] = words[1]
		}
	case "ready":
		set("reading", "quantity", "ready", "state", words[1] == "yes")
	case "fault":
		set("fault", "fault", words[1])
	case "cleared":
		set("fault_cleared", "ref", number(words[1]), "how", "restarted")
	case "done":
		if set("step", "step", words[1], "outcome", "done"); len(words) == 4 {
			e["value"], e["unit"] = words[2], words[3]
		} else if len(words) == 3 {
			e["text"] = words[2]
		}
	case "choice":
		set("step", "step", words[1], "outcome", "done", "choice", words[2])
	case "na":
		set("step", "step", words[1], "outcome", "not_applicable")
	case "load":
		lot := strings.ReplaceAll(words[4], "none", "")
		set("load", "position", words[2], "fluid", words[3], "lot", lot, "expires", words[5], "level_percent", words[6])
		if words[1] != "-" {
			e["step"] = words[1]
		}
	case "drain":
		set("drain", "step", words[1], "container", "waste", "volume_ml", words[2])
	case "empty":
		set("empty", "container", words[1], "route", "solvent waste")
	case "photo":
		set("photo", "sha256", strings.Repeat("0", 64), "media_type", "image/jpeg")
		if len(words) > 1 {
			e["step"] = words[1]
		}
	case "note":
		set("note", "text", "seen")
	case "accept", "reject":
		set("disposition", "ref", number(words[1]), "decision", words[0], "reason", "I looked at it", "by", "P-0002")
	case "strike":
		set("correction", "strikes", number(words[1]), "reason", "mistyped")
	case "replace":
		set("correction", "strikes", number(words[1]), "reason", "mistyped", "replacement", entryOf(t, words[2:]))
	default:
		set("reading", "quantity", words[0], "value", words[1], "unit", unitOf(words))
	}
}

func unitOf(words []string) string {
	if len(words) > 2 {
		return words[2]
	}
	return map[string]string{"viscosity": "mPa.s", "pressure": "kPa", "temperature": "degC"}[words[0]]
}

// describe turns an assessment into tokens that cases can ask for.
func describe(a rules.Assessment) []string {
	tokens := []string{"verdict:" + string(a.Verdict)}
	say := func(format string, args ...any) { tokens = append(tokens, fmt.Sprintf(format, args...)) }
	gates := map[string]rules.Finding{
		"steps": a.Steps.Finding, "fluids": a.Fluids.Finding, "faults": a.Faults.Finding,
		"viscosity": a.Viscosity.Finding, "hold": a.Hold.Finding,
	}
	for _, name := range slices.Sorted(maps.Keys(gates)) {
		say("%s:%s", name, gates[name].Verdict)
		for _, reason := range gates[name].Reasons {
			say("%s/%s", name, reason.Code)
		}
	}
	for _, seq := range a.Ignored {
		say("ignored:%d", seq)
	}
	for _, id := range a.Steps.Open {
		say("open:%s", id)
	}
	for _, d := range a.DecisionsNeeded {
		say("needs:%d/%s/%s", d.Ref, d.Gate, d.Code)
	}
	say("faultcount:%d", a.Faults.Count)
	for _, seq := range a.Faults.Open {
		say("faultopen:%d", seq)
	}
	for _, seq := range a.Faults.BeyondExpected {
		say("beyond:%d", seq)
	}
	v := a.Viscosity
	say("checks:%d/%d", v.Checks, v.Required)
	for name, text := range map[string]string{"value": v.Value, "target": v.Target, "lower": v.Lower, "upper": v.Upper, "deviation": v.DeviationPercent} {
		if text != "" {
			say("%s:%s", name, text)
		}
	}
	if v.ConformanceProbability != nil {
		say("p:%v", *v.ConformanceProbability)
	}
	say("held:%s", a.Hold.Held)
	for name, at := range map[string]*time.Time{"from": a.Hold.From, "to": a.Hold.To, "earliest": a.Hold.EarliestPass} {
		if at != nil {
			say("%s:%s", name, short(*at))
		}
	}
	for _, b := range a.Hold.Breaks {
		say("break:%s/%s@%s", b.Cause, b.Condition, short(b.At))
	}
	return tokens
}

func short(t time.Time) string { return strings.TrimSuffix(t.UTC().Format("15:04:05"), ":00") }

// check holds the tokens of an assessment against what a case wants.
func check(t *testing.T, a rules.Assessment, want string) {
	t.Helper()
	tokens := describe(a)
	for _, token := range strings.Fields(want) {
		token, absent := strings.CutPrefix(token, "!")
		has := slices.ContainsFunc(tokens, func(got string) bool {
			beginning, some := strings.CutSuffix(token, "*")
			return got == token || some && strings.HasPrefix(got, beginning)
		})
		if has == absent {
			t.Errorf("token %s: present is %v\n%s", token, has, strings.Join(tokens, " "))
		}
	}
}

// play runs each case as a test of its own.
func play(t *testing.T, procedure string, cases []scripted) {
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			book := bookOf(t, procedure, c.lines)
			check(t, rules.Judge(book, book.At), c.want)
		})
	}
}

// with swaps parts of a procedure, old for new, each of which must be there.
func with(procedure string, swaps ...string) string {
	for i := 0; i < len(swaps); i += 2 {
		if !strings.Contains(procedure, swaps[i]) {
			panic("no " + swaps[i])
		}
		procedure = strings.ReplaceAll(procedure, swaps[i], swaps[i+1])
	}
	return procedure
}

// bench is the procedure of most cases: no steps, so that only what a case is
// about keeps the run from passing.
const bench = `
format: settlemark.procedure/1
key: bench
title: Bench
revision: 1
late_after: 10m
quantities:
  - {key: temperature, label: Ink temperature, unit: degC, max_gap: 7m}
  - {key: viscosity, label: Ink viscosity, unit: mPa.s, cadence: 3m, max_gap: 7m, target: {value: "4.50"}, tolerance: {percent: "10"}}
  - {key: pressure, label: Ink pressure, unit: kPa, max_gap: 7m, target: {value: "300"}, tolerance: {absolute: "15"}}
  - {key: ready, label: Ready state, state: true, max_gap: 7m}
faults:
  expected: [{kind: pressure, at_most: 2}, {kind: gutter, at_most: 1}]
  others: [charge]
sections: []
gates:
  viscosity: {quantity: viscosity, checks: 3, spacing_at_least: 2m}
  hold: {conditions: [ready, viscosity], soak: 30m, fresh_within: 30m}
`
