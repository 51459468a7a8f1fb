package templates

import (
	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// cannotCorrect says why an entry cannot be struck out here, nothing when it can.
func (v RunView) cannotCorrect(e commissioning.Entry) words.Text {
	if by, struck := v.Exam.Struck[e.Seq]; struck {
		return words.Say("Entry %d has struck it out already.", by)
	}
	switch {
	case e.Kind == commissioning.KindDisposition:
		return words.Say("A supervisor's ruling is answered by another ruling, not struck out.")
	case e.Kind == commissioning.KindCorrection && e.Replacement == nil:
		return words.Say("A correction without a replacement cannot be struck out. Record the entry anew.")
	case !v.Writes():
		return words.Say("Only who holds the pen of an open run can correct its entries.")
	}
	return words.Text{}
}

// replaceable says whether a correction may carry the right entry at once. A
// plain confirmation, a start or a photo is recorded anew instead.
func replaceable(e commissioning.Entry) bool {
	switch e.Kind {
	case commissioning.KindReading, commissioning.KindDrain, commissioning.KindLoad, commissioning.KindFault, commissioning.KindNote:
		return true
	case commissioning.KindStep:
		return e.Outcome == commissioning.Done && (e.Value != "" || e.Text != "" || e.Choice != "")
	}
	return false
}
