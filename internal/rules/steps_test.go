package rules_test

import "testing"

// checklistOf puts sections into the bench procedure.
func checklistOf(sections string) string {
	return with(bench, "sections: []\n", "sections:\n"+sections)
}

func TestSteps(t *testing.T) {
	two := checklistOf(`
  - title: One
    steps:
      - {id: a, ask: confirm, text: A}
      - {id: b, ask: confirm, text: B}
  - title: Two
    steps:
      - {id: c, ask: confirm, text: C}
`)
	play(t, two, []scripted{
		{"every step needs a live answer", "08:00 done a\n08:02 done c", "steps:pending open:b !open:a !open:c steps/step_open"},
		{"all answered in order passes", "08:00 done a\n08:01 done b\n08:02 done c", "steps:pass !open:*"},
		{"a struck answer is none", "08:00 done a\n08:01 done b\n08:02 done c\n08:03 strike 2", "open:b steps:pending"},
		{"an answer earlier than that of the step above needs a decision", "08:05 done a\n08:04 done b\n08:06 done c", "steps:needs_decision needs:2/steps/out_of_order"},
		{"equal instants are never out of order", "08:05 done b\n08:05 done a\n08:05 done c", "steps:pass"},
		{"a step's place is its first live answer by observed_at", "08:00 done a\n08:10 done b\n08:01 done b\n08:02 done c", "steps:pass"},
		{"of one instant the smaller seq is the first answer", "08:05 done a\n08:04 done b\n08:04 done b\n08:06 done c", "needs:2/steps/out_of_order !needs:3*"},
		{"where the step above has no answer the last answered one counts", "08:05 done a\n08:04 done c", "needs:2/steps/out_of_order open:b"},
		{"the first step of a section compares with the last answered step above", "08:00 done a\n08:05 done b\n08:04 done c", "needs:3/steps/out_of_order"},
		{"only the step above counts and not the latest of all", "08:10 done a\n08:04 done b\n08:05 done c", "needs:2/steps/out_of_order !needs:3*"},
		{"an accepted answer settles it", "08:05 done a\n08:04 done b\n08:06 done c\n09:00 accept 2", "steps:pass !needs:*"},
		{"a rejected answer fails the gate", "08:05 done a\n08:04 done b\n08:06 done c\n09:00 reject 2", "steps:fail steps/rejected verdict:blocked !needs:*"},
		{"not_applicable is no answer where the step is not optional", "08:00 na a note=none\n08:01 done b\n08:02 done c", "open:a"},
	})
	anyOrder := checklistOf(`
  - title: One
    steps: [{id: a, ask: confirm, text: A}]
  - title: Two
    any_order: true
    steps:
      - {id: b, ask: confirm, text: B}
      - {id: c, ask: confirm, text: C}
  - title: Three
    steps: [{id: d, ask: confirm, text: D}]
`)
	play(t, anyOrder, []scripted{
		{"an any_order section may be answered in any order", "08:00 done a\n08:02 done b\n08:01 done c\n08:03 done d", "steps:pass"},
		{"every answer in it is compared with the last answered step above the section", "08:05 done a\n08:04 done c\n08:06 done b\n08:07 done d", "needs:2/steps/out_of_order !needs:3*"},
		{"the next section is compared with the latest answer in it", "08:00 done a\n08:05 done b\n08:01 done c\n08:04 done d", "needs:4/steps/out_of_order"},
		{"an unanswered any_order section leaves the step above it", "08:05 done a\n08:04 done d", "needs:2/steps/out_of_order open:b open:c"},
	})
}

func TestStepAnswers(t *testing.T) {
	optional := checklistOf(`
  - title: One
    steps:
      - {id: a, ask: confirm, text: A, optional: true}
      - {id: v, ask: value, text: V, quantity: pressure}
`)
	play(t, optional, []scripted{
		{"not_applicable with a note answers an optional step", "08:00 na a note=not_fitted\n08:01 done v 300 kPa", "steps:pass"},
		{"not_applicable without a note does not", "08:00 na a\n08:01 done v 300 kPa", "open:a"},
		{"a blank note is no note", "08:00 na a note=_\n08:01 done v 300 kPa", "open:a"},
		{"an optional step still needs an answer", "08:01 done v 300 kPa", "open:a"},
		{"a value inside the tolerance passes", "08:00 done a\n08:01 done v 315 kPa", "steps:pass"},
		{"a value outside needs a decision", "08:00 done a\n08:01 done v 3.1500001 bar", "needs:2/steps/above_limit !open:v"},
		{"every live answer of a value step is judged", "08:00 done a\n08:01 done v 280 kPa\n08:02 done v 300 kPa\n08:03 done v 320 kPa", "needs:2/steps/below_limit needs:4/steps/above_limit !needs:3*"},
	})
	guarded := with(optional, `tolerance: {absolute: "15"}`, `tolerance: {absolute: "15"}, uncertainty: {absolute: "2"}, decision: guarded`)
	play(t, guarded, []scripted{
		{"a value is judged by the decision rule of its quantity", "08:00 done a\n08:01 done v 314 kPa", "needs:2/steps/inside_guard_band"},
	})
	kinds := checklistOf(`
  - title: One
    steps:
      - {id: t, ask: text, text: T}
      - {id: k, ask: choice, text: K, options: [left, right]}
      - {id: d, ask: drain, text: D, container: waste, capacity_ml: 1000, fill_at_most_percent: 80}
      - {id: l, ask: load, text: L, position: ink, fluid: ink}
      - {id: p, ask: photo, text: P, optional: true}
      - {id: s, ask: start, text: S}
`)
	all := "08:00 done t abc\n08:01 choice k left\n08:02 drain d 100\n08:03 load l ink K-20 L1 2027-01-01 100\n08:04 photo p\n08:05 start s\n"
	play(t, kinds, []scripted{
		{"each step is answered by its kind of entry", all, "steps:pass !open:*"},
		{
			"a tick answers no step that asks for another kind",
			"08:00 done t abc\n08:01 choice k left\n08:02 done d\n08:03 done l\n08:04 done p\n08:05 done s", "open:d open:l open:p open:s !open:t !open:k",
		},
		{"an entry that names no step answers none", "08:03 load - ink K-20 L1 2027-01-01 100\n08:04 photo\n08:05 start", "open:l open:p open:s"},
		{"not_applicable answers any kind of optional step", "08:04 na p note=no_camera", "!open:p"},
	})
}

func TestSampleStep(t *testing.T) {
	sample := checklistOf(`
  - title: One
    steps:
      - {id: a, ask: confirm, text: A}
      - {id: s, ask: sample, text: S}
      - {id: z, ask: confirm, text: Z}
`)
	play(t, sample, []scripted{
		{"a sample needs a photo and the code as read", "08:00 done a\n08:01 photo s\n08:02 done s L4711\n08:03 done z", "steps:pass"},
		{"a photo alone is no answer", "08:00 done a\n08:01 photo s\n08:03 done z", "open:s"},
		{"the code alone is no answer", "08:00 done a\n08:01 done s L4711\n08:03 done z", "open:s"},
		{"it is placed at the later of its first photo and its first step", "08:05 done a\n08:01 photo s\n08:06 done s L4711\n08:07 done z", "steps:pass"},
		{"the next step is compared with that place", "08:00 done a\n08:01 photo s\n08:06 done s L4711\n08:05 done z", "needs:4/steps/out_of_order"},
		{"the decision is about the later of the two", "08:05 done a\n08:03 photo s\n08:04 done s L4711\n08:07 done z", "needs:3/steps/out_of_order"},
		{"later photos do not move it", "08:00 done a\n08:01 photo s\n08:02 done s L4711\n08:09 photo s\n08:03 done z", "steps:pass"},
	})
}

func TestGateStep(t *testing.T) {
	gate := checklistOf(`
  - title: One
    steps:
      - {id: a, ask: confirm, text: A}
      - {id: g, ask: gate, gate: faults, text: G}
      - {id: b, ask: confirm, text: B}
`)
	play(t, gate, []scripted{
		{"a gate step is open until its gate passes", "08:00 done a\n08:01 done b", "open:g steps/gate_open steps:pending"},
		{"it is answered when its gate passes", "08:00 done a\n08:01 done b\n08:02 start", "!open:* steps:pass"},
		{"a tick does not answer it", "08:00 done a\n08:00 done g\n08:01 done b", "open:g"},
		{"it has no place in time", "08:05 done a\n08:04 done b\n08:10 start", "needs:2/steps/out_of_order !open:*"},
	})
}

func TestFluids(t *testing.T) {
	loads := checklistOf(`
  - title: One
    steps:
      - {id: ink-1, ask: load, text: L, position: ink, fluid: ink}
      - {id: flush-1, ask: load, text: F, position: ink, fluid: makeup, level_at_least_percent: 75}
      - {id: lit-1, ask: load, text: X, position: makeup, fluid: W-1}
`)
	play(t, loads, []scripted{
		{"ink and makeup stand for the codes of the unit", "08:00 load ink-1 ink K-20 L1 2027-01-01 100\n08:01 load flush-1 ink K-20M L2 2027-01-01 100", "fluids:pass"},
		{"a literal code stands for itself", "08:01 load lit-1 makeup W-1 L2 2027-01-01 100", "fluids:pass"},
		{"a wrong code needs a decision", "08:01 load ink-1 ink K-21 L2 2027-01-01 100", "needs:1/fluids/wrong_fluid fluids:needs_decision"},
		{"it stays so when the container is changed later", "08:01 load ink-1 ink K-21 L2 2027-01-01 100\n08:05 load ink-1 ink K-20 L2 2027-01-01 100", "needs:1/fluids/wrong_fluid !needs:2*"},
		{"a position other than the step's counts as a wrong code", "08:01 load ink-1 makeup K-20 L2 2027-01-01 100", "needs:1/fluids/wrong_position"},
		{"a load without a step must match its position", "08:01 load - makeup K-20 L2 2027-01-01 100\n08:02 load - makeup K-20M L2 2027-01-01 10", "needs:1/fluids/wrong_fluid !needs:2*"},
		{"past its expiry on the day of loading needs a decision", "08:01 load ink-1 ink K-20 L2 2026-03-03 100", "needs:1/fluids/expired"},
		{"the printed day itself still counts", "08:01 load ink-1 ink K-20 L2 2026-03-04 100", "fluids:pass"},
		{"an empty lot is pending", "08:01 load ink-1 ink K-20 none 2027-01-01 100", "fluids:pending fluids/no_lot"},
		{"an empty lot in any live load is pending", "08:01 load - ink K-20 none 2027-01-01 100\n08:02 load - ink K-20 L1 2027-01-01 100", "fluids:pending fluids/no_lot"},
		{"an empty lot is settled by a correction", "08:01 load ink-1 ink K-20 none 2027-01-01 100\n08:05 replace 1 08:01 load ink-1 ink K-20 L7 2027-01-01 100", "fluids:pass"},
		{"a level below the step's minimum is pending", "08:01 load flush-1 ink K-20M L2 2027-01-01 74.9", "fluids:pending fluids/level_low"},
		{"the minimum itself is enough", "08:01 load flush-1 ink K-20M L2 2027-01-01 75.0", "fluids:pass"},
		{"only the latest load of the step is judged by level", "08:01 load flush-1 ink K-20M L2 2027-01-01 50\n08:09 load flush-1 ink K-20M L3 2027-01-01 90", "fluids:pass"},
		{"the latest load is by observed_at", "08:09 load flush-1 ink K-20M L3 2027-01-01 90\n08:01 load flush-1 ink K-20M L2 2027-01-01 50\nat 08:10", "fluids:pass"},
	})
	play(t, loads, []scripted{
		// Irish summer time: 23:30 UTC on the 30th is 00:30 on the 31st in Dublin.
		{"the day is that of the site's time zone", "2026-03-30T23:30:00Z load ink-1 ink K-20 L2 2026-03-30 100", "needs:1/fluids/expired"},
		{"before midnight at the site the printed day still counts", "2026-03-30T22:30:00Z load ink-1 ink K-20 L2 2026-03-30 100", "fluids:pass"},
	})
}

func TestWaste(t *testing.T) {
	drains := checklistOf(`
  - title: One
    steps:
      - {id: d1, ask: drain, text: D, container: waste, capacity_ml: 1000, fill_at_most_percent: 80}
      - {id: d2, ask: drain, text: D, container: waste, capacity_ml: 1000, fill_at_most_percent: 80}
`)
	play(t, drains, []scripted{
		{"the limit itself is allowed", "08:00 drain d1 400\n08:01 drain d2 400", "fluids:pass"},
		{"the drain that goes over needs a decision", "08:00 drain d1 400\n08:01 drain d2 400.1", "needs:2/fluids/waste_over_limit !needs:1*"},
		{"every drain that leaves it above needs a decision", "08:00 drain d1 900\n08:01 drain d2 1", "needs:1/fluids/waste_over_limit needs:2/fluids/waste_over_limit"},
		{"the volume counts since the last live empty", "08:00 drain d1 700\n08:01 empty waste\n08:02 drain d2 700", "fluids:pass"},
		{"a struck empty empties nothing", "08:00 drain d1 700\n08:01 empty waste\n08:02 drain d2 700\n08:03 strike 2", "needs:3/fluids/waste_over_limit"},
		{"drains and empties go by observed_at", "08:00 drain d1 700\n08:02 drain d2 700\n08:01 empty waste\nat 08:03", "fluids:pass"},
		{"of one instant they go by seq", "08:00 drain d1 700\n08:00 drain d2 700\n08:00 empty waste", "needs:2/fluids/waste_over_limit"},
	})
}
