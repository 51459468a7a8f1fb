package templates

import (
	"slices"
	"strings"

	"settlemark/internal/urls"
)

// keptPages are the pages of a run that a tablet takes along, the run's own
// first; none of a run to which the viewer can add nothing.
func (v RunView) keptPages() string {
	if !v.Helps() {
		return ""
	}
	id := v.Run.ID
	pages := []string{urls.Run(id), urls.Fault(id), urls.More(id), urls.Pen(id)}
	if v.Writes() {
		pages = append(pages, urls.Cup(id))
		for _, q := range v.Procedure.Quantities {
			pages = append(pages, urls.Reading(id, q.Key))
		}
	}
	return strings.Join(pages, " ")
}

// fluidCodes that a tablet can check a container against: those of the unit and
// those that the procedure names.
func (v RunView) fluidCodes() string {
	codes := []string{v.Unit.Ink, v.Unit.Makeup}
	for _, st := range v.Exam.Steps {
		if st.Step.Fluid != "" {
			codes = append(codes, v.Wanted(st.Step))
		}
	}
	slices.Sort(codes)
	return strings.Join(slices.Compact(codes), " ")
}
