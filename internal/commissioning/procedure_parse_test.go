package commissioning_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"settlemark/internal/commissioning"
)

// returnToService has every part that a procedure may have.
const returnToService = `format: settlemark.procedure/1
key: return-to-service
title: Return to service after a flush
revision: 3
late_after: 10m
valid_for: 4320h
voided_by: ["a change of fluid", "a shutdown of more than 14 days"]
quantities:
  - {key: temperature, label: Ink temperature, unit: degC, max_gap: 7m}
  - key: viscosity
    label: Ink viscosity
    unit: mPa.s
    cadence: 3m
    max_gap: 7m
    target: {by: temperature, curve: [{at: "15", value: "5.10"}, {at: "25", value: 4.20}]}
    tolerance: {percent: "10"}
    uncertainty: {percent: "2", k: 2}
    decision: guarded
    guard_factor: 1.0
  - {key: pressure, label: Ink pressure, unit: kPa, max_gap: 7m, target: {value: 300}, tolerance: {absolute: "15"}}
  - {key: ready, label: Ready state, state: true, max_gap: 7m}
  - {key: level, label: Waste level, unit: mL}
faults:
  expected: [{kind: pressure, at_most: 2}, {kind: gutter, at_most: 2}]
  others: [over_temperature, charge]
sections:
  - title: Make safe
    cautions: [flammable, high_voltage]
    steps:
      - {id: jet-off, ask: confirm, text: "Unit stopped", optional: true}
      - {id: read, ask: value, quantity: pressure, text: "Pressure read"}
      - {id: kind, ask: choice, options: [left, right], text: "Which"}
  - title: First drain
    any_order: true
    steps:
      - {id: drain-1, ask: drain, container: waste, capacity_ml: 1000, fill_at_most_percent: 80, text: "Drained"}
      - {id: drain-2, ask: drain, container: waste, capacity_ml: "1000.0", fill_at_most_percent: 80, text: "Drained"}
      - {id: load-1, ask: load, position: ink, fluid: makeup, level_at_least_percent: 75, text: "Loaded"}
      - {id: settled, ask: gate, gate: hold, text: "Settled"}
gates:
  viscosity: {quantity: viscosity, checks: 3, spacing_at_least: 2m}
  hold: {conditions: [ready, viscosity], soak: 30m, fresh_within: 30m}
`

func TestParseProcedure(t *testing.T) {
	p, err := commissioning.ParseProcedure([]byte(returnToService))
	if err != nil {
		t.Fatal(err)
	}
	t.Run("decimals are kept as typed", func(t *testing.T) {
		if got := p.Quantities[1].Target.Curve[1].Value; got != "4.20" {
			t.Error(got)
		}
		if got := p.Quantities[1].GuardFactor; got != "1.0" {
			t.Error(got)
		}
	})
	t.Run("durations keep their text", func(t *testing.T) {
		if p.ValidFor.String() != "4320h" || p.Quantities[1].MaxGap.D.Minutes() != 7 {
			t.Error(p.ValidFor, p.Quantities[1].MaxGap)
		}
	})
	t.Run("quantities and steps are found by name", func(t *testing.T) {
		if q, ok := p.Quantity("ready"); !ok || q.Label != "Ready state" {
			t.Error(q)
		}
		if s, ok := p.Step("settled"); !ok || s.Gate != "hold" {
			t.Error(s)
		}
		if _, ok := p.Step("no"); ok {
			t.Error("found a step that is not there")
		}
	})
	t.Run("the same procedure inside a logbook reads the same", func(t *testing.T) {
		inside, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		head, _, _ := strings.Cut(logbook, `"procedure"`)
		empty := head + `"procedure": ` + string(inside) + `, "entries": [], "at": "2026-03-04T10:30:00Z"}`
		book, err := parse(empty)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(p, book.Procedure); diff != "" {
			t.Error(diff)
		}
	})
	t.Run("a procedure may have no sections", func(t *testing.T) {
		head, rest, _ := strings.Cut(returnToService, "sections:")
		_, gates, _ := strings.Cut(rest, "gates:")
		short := head + "sections: []\ngates:" + gates
		if _, err := commissioning.ParseProcedure([]byte(short)); err != nil {
			t.Error(err)
		}
	})
}

// flaw is a procedure with one thing wrong and what the error must begin with.
type flaw struct{ name, old, new, want string }

func TestProcedureRefusals(t *testing.T) {
	for _, c := range []flaw{
		{"unknown format", "procedure/1", "procedure/2", "line 1: $.format: expected one of settlemark.procedure/1"},
		{"a missing field", "revision: 3\n", "", "line 1: $.revision: expected a whole number, found nothing"},
		{"an unknown field", "late_after: 10m", "late_after: 10m\nlate_afer: 1m", "line 6: $.late_afer: expected no such field"},
		{"an unknown field of a step", "optional: true", "optionnal: true", "line 30: $.sections[0].steps[0].optionnal: expected no such field"},
		{"a field of another ask", `text: "Pressure read"`, `text: "Pressure read", container: waste`, "line 31: $.sections[0].steps[1].container: expected no such field"},
		{"a duration that is none", "late_after: 10m", "late_after: 10 minutes", "line 5: $.late_after: expected a duration such as 7m"},
		{"a duration below zero", "late_after: 10m", "late_after: -10m", "line 5: $.late_after: expected a duration of at least 0s"},
		{"an unknown unit", "unit: kPa", "unit: atm", "line 20: $.quantities[2].unit: expected a unit"},
		{"an unknown ask", "ask: confirm", "ask: tick", "line 30: $.sections[0].steps[0].ask: expected one of confirm, value"},
		{"a gate on a quantity without tolerance", "{quantity: viscosity", "{quantity: level", `line 41: $.gates.viscosity.quantity: expected a quantity with a tolerance, "level" has none`},
		{"a hold on a quantity without tolerance", "[ready, viscosity]", "[ready, temperature]", "line 42: $.gates.hold.conditions[1]: expected a state or a quantity with a tolerance"},
		{"a hold on a quantity that is not there", "[ready, viscosity]", "[ready, mood]", "line 42: $.gates.hold.conditions[1]: expected the key of a quantity"},
		{"a duplicate step id", "id: read", "id: jet-off", `line 31: $.sections[0].steps[1].id: expected each id only once, found "jet-off" again`},
		{"a duplicate quantity", "key: ready", "key: pressure", "line 21: $.quantities[3].key: expected each key only once"},
		{"a duplicate condition", "[ready, viscosity]", "[ready, ready]", "line 42: $.gates.hold.conditions[1]: expected each condition only once"},
		{"a curve of one point", `, {at: "25", value: 4.20}`, "", "line 15: $.quantities[1].target.curve: expected a curve of at least two points"},
		{"a curve that is not in rising order", `at: "25"`, `at: "15.0"`, "line 15: $.quantities[1].target.curve[1].at: expected points in rising order"},
		{"a curve value that has no logarithm", "value: 4.20", "value: 0", "line 15: $.quantities[1].target.curve[1].value: expected a number above zero"},
		{"a soak of zero", "soak: 30m", "soak: 0s", "line 42: $.gates.hold.soak: expected a duration above zero, found 0s"},
		{"max_gap shorter than cadence", "cadence: 3m", "cadence: 8m", "line 14: $.quantities[1].max_gap: expected a duration not shorter than cadence 8m"},
		{"guarded without uncertainty", `    uncertainty: {percent: "2", k: 2}` + "\n", "", "line 17: $.quantities[1].decision: expected uncertainty beside a guarded decision"},
		{"fresh_within shorter than max_gap", "fresh_within: 30m", "fresh_within: 6m", "line 42: $.gates.hold.fresh_within: expected a duration not shorter than max_gap 7m"},
		{"no max_gap on a hold condition", "state: true, max_gap: 7m", "state: true", `line 42: $.gates.hold.conditions[0]: expected a condition with max_gap, "ready" has none`},
		{"no max_gap on the quantity a curve goes by", "unit: degC, max_gap: 7m", "unit: degC", `line 15: $.quantities[1].target.by: expected a quantity with max_gap`},
		{"a curve by something that is no temperature", "by: temperature", "by: pressure", "line 15: $.quantities[1].target.by: expected another quantity that is a temperature"},
		{"a value step on a quantity without tolerance", "quantity: pressure", "quantity: level", "line 31: $.sections[0].steps[1].quantity: expected a quantity with a tolerance"},
		{"a tolerance about no target", ", target: {value: 300}", "", "line 20: $.quantities[2].tolerance: expected a target beside this tolerance"},
		{"two tolerances", `{absolute: "15"}`, `{absolute: "15", percent: "5"}`, "line 20: $.quantities[2].tolerance: expected one of percent, absolute, or lower and upper"},
		{"one limit only", `{absolute: "15"}`, `{lower: "15"}`, "line 20: $.quantities[2].tolerance: expected one of"},
		{"limits the wrong way round", `{absolute: "15"}`, `{lower: "15", upper: "14"}`, "line 20: $.quantities[2].tolerance.upper: expected an upper limit that is not below"},
		{"a state with a unit", "state: true, max_gap", "state: true, unit: K, max_gap", "line 21: $.quantities[3].unit: expected no such field"},
		{"neither unit nor state", ", state: true", "", "line 21: $.quantities[3]: expected a unit or a state"},
		{"an uncertainty without a size", `{percent: "2", k: 2}`, "{k: 2}", "line 17: $.quantities[1].uncertainty: expected either percent or absolute"},
		{"k of zero", "k: 2", "k: 0", "line 17: $.quantities[1].uncertainty.k: expected a number above zero"},
		{"a decimal that YAML would take for a number", "capacity_ml: 1000,", "capacity_ml: 0x3e8,", "line 36: $.sections[1].steps[0].capacity_ml: expected a decimal number"},
		{"a container of two sizes", `"1000.0"`, "900", `line 37: $.sections[1].steps[1]: expected capacity and fill limit of container "waste" as in step "drain-1"`},
		{"an unknown gate", "gate: hold", "gate: steps", "line 39: $.sections[1].steps[3].gate: expected one of fluids, faults, viscosity, hold"},
		{"no options", "options: [left, right]", "options: []", "line 32: $.sections[0].steps[2].options: expected at least one option"},
		{"an expected fault twice", "kind: gutter", "kind: pressure", "line 24: $.faults.expected[1].kind: expected each kind only once"},
		{"a fault both expected and not", "[over_temperature", "[gutter", "line 25: $.faults.others[0]: expected a kind that is not under expected"},
		{"no conditions", "[ready, viscosity]", "[]", "line 42: $.gates.hold.conditions: expected at least one condition"},
		{"no checks", "checks: 3", "checks: 0", "line 41: $.gates.viscosity.checks: expected a whole number of at least 1"},
		{"a field twice", "revision: 3", "revision: 3\nrevision: 4", "line 5: $.revision: expected this field only once"},
		{"an alias", "title: Make safe", "title: &a Make safe", "line 27: $.sections[0].title: expected no anchor or alias"},
		{"a tag", "title: Make safe", "title: !!binary Make", "line 27: $.sections[0].title: expected no tag"},
		{"a second document", "format:", "--- {}\n---\nformat:", "line 2: $: expected one document"},
		{"broken YAML", "key: return-to-service", "key: [", "line"},
		{"text where a list belongs", "options: [left, right]", "options: left", "line 32: $.sections[0].steps[2].options: expected a list, found text"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if !strings.Contains(returnToService, c.old) {
				t.Fatal("the procedure has no", c.old)
			}
			_, err := commissioning.ParseProcedure([]byte(strings.Replace(returnToService, c.old, c.new, 1)))
			if err == nil {
				t.Fatal("was taken")
			}
			if !strings.HasPrefix(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("%q does not begin with %q", err, c.want)
			}
		})
	}
	t.Run("a file without end", func(t *testing.T) {
		if _, err := commissioning.ParseProcedure([]byte(strings.Repeat("a: 1\n", 1<<20))); err == nil {
			t.Error("was taken")
		}
	})
	t.Run("nothing", func(t *testing.T) {
		for _, text := range []string{"", "# only a comment\n", "null", "---\n"} {
			if _, err := commissioning.ParseProcedure([]byte(text)); err == nil {
				t.Errorf("%q was taken", text)
			}
		}
	})
	t.Run("bytes that are no text", func(t *testing.T) {
		_, err := commissioning.ParseProcedure([]byte("format: a\nkey: \xff\n"))
		if err == nil || !strings.HasPrefix(err.Error(), "line 2: ") {
			t.Error(err)
		}
	})
}
