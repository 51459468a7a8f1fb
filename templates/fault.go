package templates

import (
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

func (v RunView) openFaults() []rules.FaultState {
	var open []rules.FaultState
	for _, f := range v.Exam.Faults {
		if f.ClearedBy == nil {
			open = append(open, f)
		}
	}
	return open
}

func (v RunView) faultsSub() words.Text {
	open, all := len(v.openFaults()), len(v.Exam.Faults)
	switch {
	case all == 0:
		return words.Say("None so far.")
	case open == 0:
		return words.Many(all, "%d fault, cleared.", "%d faults, all cleared.")
	}
	return words.Many(all, "%d fault, %d open.", "%d faults, %d open.", open)
}

// needsStart says whether a fault came after the last start: the jet is
// commonly started again once it is cleared.
func (v RunView) needsStart() bool {
	if v.jet() == "" || len(v.Exam.Faults) == 0 {
		return false
	}
	last := v.Exam.Faults[len(v.Exam.Faults)-1]
	for _, e := range v.Exam.Live {
		if e.Kind == "start" && e.ObservedAt.After(last.Entry.ObservedAt) {
			return false
		}
	}
	return true
}
