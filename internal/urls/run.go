package urls

import (
	"strconv"

	"settlemark/internal/commissioning"
)

// Patterns of the pages that belong to one run.
const (
	CorrectionPattern = "/runs/{run}/entries/{seq}/correction"
	MorePattern       = "/runs/{run}/more" // note, photo, containers, jet, pen, abandon
	EstimatesPattern  = "/runs/{run}/estimates"
	ImportPattern     = "/runs/{run}/import"
	ImportReadPattern = "/runs/{run}/import/read"
	CupPattern        = "/runs/{run}/cup"
)

// Correction is the page on which one entry is struck out.
func Correction(id commissioning.RunID, seq int) string {
	return run(id, "/entries/"+strconv.Itoa(seq)+"/correction")
}

// More is the page of everything that is not a line of the procedure.
func More(id commissioning.RunID) string { return run(id, "/more") }

// Cup is the page on which a reading is checked with a flow cup.
func Cup(id commissioning.RunID) string { return run(id, "/cup") }

// Estimates is the page that reckons old fluid, make-up and vapour.
func Estimates(id commissioning.RunID) string { return run(id, "/estimates") }

// MoreForm is that page with one of its forms open.
func MoreForm(id commissioning.RunID, form string) string {
	return More(id) + "?open=" + form + "#" + form
}

// RunLine is the page of a run at one line of a section.
func RunLine(id commissioning.RunID, section int, step string) string {
	return RunStep(id, section) + "#line-" + step
}

// RunSaved is the page of a run after an entry was stored.
func RunSaved(id commissioning.RunID, section, seq int) string {
	return RunStep(id, section) + "&saved=" + strconv.Itoa(seq)
}

// Saved adds to a run's page what was just stored.
func Saved(page string, seq int) string { return page + "?saved=" + strconv.Itoa(seq) }
