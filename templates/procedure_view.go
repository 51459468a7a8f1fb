package templates

import (
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// RevisionView is one revision of a procedure with who wrote it and what
// quality said of it.
type RevisionView struct {
	commissioning.Procedure
	YAML, SHA256 string
	Author       string   // who submitted it, "" when it came with the product
	Authors      []string // everybody who changed its draft
	Reason       string   // for the change
	AddedAt      time.Time
	ApprovedBy   string // "" while it is not approved
	ApprovedAt   *time.Time
	RejectedBy   string
	RejectedAt   *time.Time
	Rejection    string
	RetiredBy    string
	RetiredAt    *time.Time
	Retirement   string
	Demo         bool
}

// RevisionStanding is what quality said of a revision.
type RevisionStanding string

// What quality can have said.
const (
	NotApproved RevisionStanding = "not approved"
	Approved    RevisionStanding = "approved"
	Rejected    RevisionStanding = "rejected"
	Retired     RevisionStanding = "retired"
)

// Standing is the last that quality said of it.
func (v RevisionView) Standing() RevisionStanding {
	switch {
	case v.RetiredAt != nil:
		return Retired
	case v.RejectedAt != nil:
		return Rejected
	case v.ApprovedAt != nil:
		return Approved
	}
	return NotApproved
}

func (s RevisionStanding) words() words.Text {
	switch s {
	case Retired:
		return words.Say("retired")
	case Rejected:
		return words.Say("rejected")
	case Approved:
		return words.Say("approved")
	}
	return words.Say("not approved")
}

func (v RevisionView) reasonWords() words.Text {
	if v.Reason == "" {
		return words.Say("none was given")
	}
	return words.Plain(v.Reason)
}

func (v RevisionView) steps() int {
	n := 0
	for _, s := range v.Sections {
		n += len(s.Steps)
	}
	return n
}

// writtenBy names everybody who changed the draft, and who submitted it.
func (v RevisionView) writtenBy() words.Text {
	if v.Author == "" {
		return words.Say("Came with Settlemark")
	}
	var others []string
	for _, name := range v.Authors {
		if name != v.Author {
			others = append(others, name)
		}
	}
	if len(others) == 0 {
		return words.Plain(v.Author)
	}
	return words.Say("%s, with %s", v.Author, strings.Join(others, ", "))
}

// asks says in words how a step is answered.
func (v RevisionView) asks(s commissioning.Step) words.Text {
	switch s.Ask {
	case commissioning.AskConfirm:
		return words.Say("confirm by hand")
	case commissioning.AskValue:
		return words.Say("type %s", v.quantityWords(s.Quantity))
	case commissioning.AskText:
		return words.Say("type words")
	case commissioning.AskChoice:
		return words.Say("choose one of %d", len(s.Options))
	case commissioning.AskDrain:
		if s.FillAtMostPercent != "" {
			return words.Say("type what went into %s, filled to %s %% at most", s.Container, words.Number(s.FillAtMostPercent))
		}
		return words.Say("type what went into %s", s.Container)
	case commissioning.AskLoad:
		if s.LevelAtLeastPercent != "" {
			return words.Say("load: code, lot, expiry, level, at least %s %% full", words.Number(s.LevelAtLeastPercent))
		}
		return words.Say("load: code, lot, expiry, level")
	case commissioning.AskPhoto:
		return words.Say("take a photo")
	case commissioning.AskStart:
		return words.Say("start the jet")
	case commissioning.AskSample:
		return words.Say("read the print sample and type it")
	case commissioning.AskGate:
		return words.Say("opens when this gate is met: %s", commissioning.GateName(s.Gate))
	}
	return words.Plain(string(s.Ask))
}

func (v RevisionView) quantityWords(key string) string {
	for _, q := range v.Quantities {
		if q.Key == key {
			if q.Unit == "" {
				return q.Label
			}
			return q.Label + ", " + q.Unit
		}
	}
	return key
}

// wanted says what a quantity should be.
func wanted(q commissioning.Quantity) words.Text {
	switch {
	case q.State != nil && *q.State:
		return words.Say("must be on")
	case q.State != nil:
		return words.Say("must be off")
	case q.Tolerance == nil:
		return words.Say("recorded")
	case q.Tolerance.Lower != "" || q.Tolerance.Upper != "":
		return between(q.Tolerance.Lower, q.Tolerance.Upper)
	}
	target := words.Say("target by temperature")
	if q.Target != nil && q.Target.Value != "" {
		target = words.Say("%s", words.Number(q.Target.Value))
	}
	if q.Tolerance.Percent != "" {
		return words.Say("%s ±%s %%", target, words.Number(q.Tolerance.Percent))
	}
	return words.Say("%s ±%s", target, words.Number(q.Tolerance.Absolute))
}

// between names two limits, or the one that there is.
func between(lower, upper string) words.Text {
	switch {
	case lower == "":
		return words.Say("at most %s", words.Number(upper))
	case upper == "":
		return words.Say("at least %s", words.Number(lower))
	}
	return words.Say("%s to %s", words.Number(lower), words.Number(upper))
}

func everyWords(q commissioning.Quantity) words.Text {
	if q.Cadence.Text == "" {
		return words.Text{}
	}
	return words.Say("every %s, %s apart at most", parts.Span(q.Cadence.D), parts.Span(q.MaxGap.D))
}

// conditionLabels names what must hold, with the words of the quantities.
func (v RevisionView) conditionLabels() []string {
	var out []string
	for _, key := range v.Gates.Hold.Conditions {
		out = append(out, v.labelOf(key))
	}
	return out
}

// labelOf is the procedure's word for a quantity, or its key.
func (v RevisionView) labelOf(key string) string {
	for _, q := range v.Quantities {
		if q.Key == key && q.Label != "" {
			return q.Label
		}
	}
	return key
}

func (v RevisionView) expectedFaults() words.Text {
	var out []words.Text
	for _, e := range v.Faults.Expected {
		out = append(out, words.Say("%s, %d at most", commissioning.FaultName(e.Kind), e.AtMost))
	}
	if len(out) == 0 {
		return words.Say("None")
	}
	return words.Join("; ", out...)
}
