package templates

import "settlemark/internal/commissioning"

// rowTitle says where the work stands.
func (v RunView) rowTitle() string {
	switch {
	case v.Run.State != commissioning.Open:
		return sentenceCase(string(v.Run.State))
	case v.Here() < len(v.Procedure.Sections):
		return v.Procedure.Sections[v.Here()].Title
	}
	return "Submit"
}

// rowMinutes is the time left or proven while the unit settles, else nothing.
func (v RunView) rowMinutes() string {
	if v.Run.State != commissioning.Open || v.jet() == "" {
		return ""
	}
	return v.Lead().Number
}
