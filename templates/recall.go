package templates

import (
	"slices"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// RecallView is the search for a lot and what it found.
type RecallView struct {
	Proving   parts.Proving // of the form that withdraws
	Search    parts.Form    // fluid and lot
	Asked     bool
	Lines     []LotLine
	Form      parts.Form // of the withdrawal
	Now       time.Time
	Withdrawn []commissioning.CertificateNumber // by the recall that was just sent
	Skipped   []commissioning.CertificateNumber
}

// LotLine is one entry of the lot with the release of its run, nil without one.
type LotLine struct {
	commissioning.LotLoad
	Release *commissioning.Certificate
}

// RunState is the run's state; one that was sent back is called returned.
func (l LotLine) RunState() string {
	if l.Returned {
		return "returned"
	}
	return string(l.State)
}

// EntryState says whether the entry stands, and whether it stands by a correction.
func (l LotLine) EntryState() string {
	switch {
	case !l.Stands():
		return "struck"
	case l.Corrected:
		return "corrected"
	}
	return "as recorded"
}

// LotRun is one run with its entries of the lot, newest first.
type LotRun []LotLine

// runs groups the lines by run.
func (v RecallView) runs() []LotRun {
	var out []LotRun
	place := map[commissioning.RunID]int{}
	for _, l := range v.Lines {
		i, known := place[l.Run]
		if !known {
			i = len(out)
			place[l.Run] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], l)
	}
	return out
}

// stands says whether the record of the run still says that the lot was put in.
func (r LotRun) stands() bool {
	return slices.ContainsFunc(r, func(l LotLine) bool { return l.Stands() })
}

// standing are the lines whose certificate can be withdrawn, each certificate once.
func (v RecallView) standing() []LotLine {
	var out []LotLine
	seen := map[commissioning.CertificateNumber]bool{}
	for _, l := range v.Lines {
		if l.Release != nil && l.Release.WithdrawnAt == nil && !seen[l.Certificate] {
			seen[l.Certificate] = true
			out = append(out, l)
		}
	}
	return out
}

// ticked says whether a certificate is chosen: as sent, or at first every one
// whose run still says that the lot was put in.
func (v RecallView) ticked(n commissioning.CertificateNumber) bool {
	if v.Form.Values.Has("number") || v.Form.Err != nil {
		return v.Form.Checked("number", string(n))
	}
	for _, l := range v.Lines {
		if l.Certificate == n && l.Stands() {
			return true
		}
	}
	return false
}

// summary counts what was found.
func (v RecallView) summary() string {
	units, struck := map[string]bool{}, 0
	for _, l := range v.Lines {
		units[l.Unit] = true
		if !l.Stands() {
			struck++
		}
	}
	text := words.Count(len(v.runs()), "run") + " on " + words.Count(len(units), "unit") + ", " + words.Count(len(v.Lines), "entry")
	if struck > 0 {
		text += ", " + words.Count(struck, "entry") + " of them struck"
	}
	return text + ". " + words.Count(len(v.standing()), "certificate") + " not withdrawn."
}

func numberList(numbers []commissioning.CertificateNumber) string {
	all := make([]string, len(numbers))
	for i, n := range numbers {
		all[i] = string(n)
	}
	return strings.Join(all, ", ")
}

// done says what the recall did.
func (v RecallView) done() string {
	text := "Withdrawn: " + numberList(v.Withdrawn) + "."
	if len(v.Skipped) > 0 {
		text += " Withdrawn before, and left as they were: " + numberList(v.Skipped) + "."
	}
	return text
}
