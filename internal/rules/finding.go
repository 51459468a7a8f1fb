package rules

import (
	"cmp"
	"fmt"
	"slices"
)

// finding is one thing that keeps a gate from passing. With a ref it needs a
// decision on that entry; without, more of the same work settles it.
type finding struct {
	code string
	text string
	ref  int
}

func pending(code, format string, args ...any) finding {
	return finding{code: code, text: fmt.Sprintf(format, args...)}
}

func needsDecision(ref int, code, format string, args ...any) finding {
	return finding{code: code, text: fmt.Sprintf(format, args...), ref: ref}
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
				f.text = fmt.Sprintf("%s A supervisor rejected it: %s. This run cannot be released.", f.text, ruling.Reason)
				f.code = "rejected"
			default:
				verdict = NeedsDecision
				needed = append(needed, DecisionNeeded{Ref: f.ref, Gate: gate, Code: f.code, Text: f.text})
				f.text += " A supervisor must decide."
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
