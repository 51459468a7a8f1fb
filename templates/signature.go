package templates

import (
	"encoding/hex"
	"fmt"
	"strings"

	"settlemark/internal/chart"
	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// splitMark is the head that a signature is bound to, as a mark that the eye
// can compare with the one on paper.
func splitMark(l words.Language, s commissioning.Signature) chart.Chart {
	name := fmt.Sprintf("mark-%d-%s", s.Round, s.Kind)
	return chart.Split(l, s.Head, 120, 40, chart.ByBoth).Named(name, name+"-")
}

func shortHead(s commissioning.Signature) string {
	text := hex.EncodeToString(s.Head)
	return text[:min(16, len(text))]
}

// signedLine is the whole manifestation in one line, for tables and histories.
func signedLine(s commissioning.Signature, zone string) words.Text {
	return words.Say("%s, %s: %s. %s, %s, head %s", s.Name, commissioning.SignerText(string(s.Role)), commissioning.SignerText(s.Meaning),
		parts.DaySecond(s.SignedAt, zone), commissioning.SignerText(s.Method), shortHead(s))
}

// ofRound gives the signatures of one round, the submission first.
func ofRound(all []commissioning.Signature, round int) []commissioning.Signature {
	var own []commissioning.Signature
	for _, s := range all {
		if s.Round == round {
			own = append(own, s)
		}
	}
	return own
}

func byKind(all []commissioning.Signature, kind commissioning.SignatureKind) []commissioning.Signature {
	var own []commissioning.Signature
	for _, s := range all {
		if s.Kind == kind {
			own = append(own, s)
		}
	}
	return own
}

// changedSentence says it plainly; nothing while the record is whole.
func changedSentence(changed []string, signed bool) words.Text {
	switch {
	case len(changed) == 0:
		return words.Text{}
	case signed:
		return words.Say("This record has been changed since it was signed.")
	}
	return words.Say("This record has been changed since it was stored.")
}

const mostChanges = 8

// changedWhat lists what was changed, as far as it can be told.
func changedWhat(changed []string) words.Text {
	what := words.Say("Not as it was: %s.", strings.Join(changed[:min(mostChanges, len(changed))], ", "))
	if more := len(changed) - mostChanges; more > 0 {
		what = words.Say("Not as it was: %s, and %d more.", strings.Join(changed[:mostChanges], ", "), more)
	}
	return words.Sentences(what, words.Say("Nothing can be signed on top of it. Tell quality, and compare with a certificate or an export that left here before."))
}
