package rules

import (
	"cmp"
	"slices"

	"settlemark/internal/words"
)

// finding is one thing that keeps a gate from passing. With a ref it needs a
// decision on that entry; without, more of the same work settles it. Formats are
// keys of the catalogues.
type finding struct {
	code string
	text words.Text
	ref  int
}

func pending(code, format string, args ...any) finding {
	return finding{code: code, text: words.Say(format, args...)}
}

func needsDecision(ref int, code, format string, args ...any) finding {
	return finding{code: code, text: words.Say(format, args...), ref: ref}
}

// severity orders verdicts: in a gate the worst of its findings stands.
var severity = map[Verdict]int{Pass: 0, Pending: 1, NeedsDecision: 2, Fail: 3}

// settle joins the findings of a gate with what supervisors ruled: an accepted
// one is gone, a rejected one fails the gate, the others still need a decision.
func (r *record) settle(gate string, found []finding) (Finding, []DecisionNeeded) {
	out := Finding{Verdict: Pass, Reasons: []Reason{}}
	var needed []DecisionNeeded
	for _, f := range found {
		verdict := Pending
		if f.ref != 0 {
			ruling, ruled := r.rulings[f.ref]
			switch {
			case ruled && r.accepted(f.ref):
				continue
			case ruled:
				verdict = Fail
				f.text = words.Say("%s A supervisor rejected it: %s. This run cannot be released.", f.text, ruling.Reason)
				f.code = "rejected"
			default:
				verdict = NeedsDecision
				needed = append(needed, DecisionNeeded{Ref: f.ref, Gate: gate, Code: f.code, Text: f.text})
				f.text = words.Say("%s A supervisor must decide.", f.text)
			}
		}
		if severity[verdict] > severity[out.Verdict] {
			out.Verdict = verdict
		}
		out.Reasons = append(out.Reasons, Reason{f.code, f.text})
	}
	slices.SortStableFunc(needed, func(a, b DecisionNeeded) int { return cmp.Compare(a.Ref, b.Ref) })
	return out, needed
}
