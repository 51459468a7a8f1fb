package templates

import (
	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// rowTitle says where the work stands.
func (v RunView) rowTitle() words.Text {
	switch {
	case v.Run.State != commissioning.Open:
		return stateName(v.Run.State)
	case v.Here() < len(v.Procedure.Sections):
		return words.Plain(v.Procedure.Sections[v.Here()].Title)
	}
	return words.Say("Submit")
}

// rowMinutes is the time left or proven while the unit settles, else nothing.
func (v RunView) rowMinutes() string {
	if v.Run.State != commissioning.Open || v.jet() == "" {
		return ""
	}
	return v.Lead().Number
}

// rowLines counts the lines as long as the jet was not started: until then
// there is nothing to settle.
func (v RunView) rowLines() words.Text {
	if v.Run.State != commissioning.Open || v.jet() != "" {
		return words.Text{}
	}
	all := len(v.Exam.Steps)
	return words.Say("%d of %d lines", all-len(v.Exam.Assessment.Steps.Open), all)
}

// Stick is the state of each section, in order.
func (v RunView) Stick() []string {
	var states []string
	for _, s := range v.Sections() {
		states = append(states, s.State)
	}
	return states
}
