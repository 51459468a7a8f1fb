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
func (l LotLine) RunState() words.Text {
	if l.Returned {
		return words.Say("returned")
	}
	return l.State.Name()
}

// EntryState says whether the entry stands, and whether it stands by a correction.
func (l LotLine) EntryState() words.Text {
	switch {
	case !l.Stands():
		return words.Say("struck")
	case l.Corrected:
		return words.Say("corrected")
	}
	return words.Say("as recorded")
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
func (v RecallView) summary() words.Text {
	units, struck := map[string]bool{}, 0
	for _, l := range v.Lines {
		units[l.Unit] = true
		if !l.Stands() {
			struck++
		}
	}
	found := words.Say("%s on %s, %s.", words.Many(len(v.runs()), "%d run", "%d runs"), words.Many(len(units), "%d unit", "%d units"),
		words.Many(len(v.Lines), "%d entry", "%d entries"))
	if struck > 0 {
		found = words.Sentences(found, words.Many(struck, "%d entry of them is struck.", "%d entries of them are struck."))
	}
	return words.Sentences(found, words.Many(len(v.standing()), "%d certificate is not withdrawn.", "%d certificates are not withdrawn."))
}

func numberList(numbers []commissioning.CertificateNumber) string {
	all := make([]string, len(numbers))
	for i, n := range numbers {
		all[i] = string(n)
	}
	return strings.Join(all, ", ")
}

// done says what the recall did.
func (v RecallView) done() words.Text {
	text := words.Say("Withdrawn: %s.", numberList(v.Withdrawn))
	if len(v.Skipped) > 0 {
		text = words.Sentences(text, words.Say("Withdrawn before, and left as they were: %s.", numberList(v.Skipped)))
	}
	return text
}
