package templates

import (
	"fmt"
	"strings"
	"time"

	"settlemark/internal/commissioning"
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

// Standing is one word for what quality said of it.
func (v RevisionView) Standing() string {
	switch {
	case v.RetiredAt != nil:
		return "retired"
	case v.RejectedAt != nil:
		return "rejected"
	case v.ApprovedAt != nil:
		return "approved"
	}
	return "not approved"
}

func (v RevisionView) reasonWords() string {
	if v.Reason == "" {
		return "none was given"
	}
	return v.Reason
}

func (v RevisionView) steps() int {
	n := 0
	for _, s := range v.Sections {
		n += len(s.Steps)
	}
	return n
}

// writtenBy names everybody who changed the draft, and who submitted it.
func (v RevisionView) writtenBy() string {
	if v.Author == "" {
		return "Came with Settlemark"
	}
	var others []string
	for _, name := range v.Authors {
		if name != v.Author {
			others = append(others, name)
		}
	}
	if len(others) == 0 {
		return v.Author
	}
	return v.Author + ", with " + strings.Join(others, ", ")
}

// asks says in words how a step is answered.
func (v RevisionView) asks(s commissioning.Step) string {
	switch s.Ask {
	case commissioning.AskConfirm:
		return "confirm by hand"
	case commissioning.AskValue:
		return "type " + v.quantityWords(s.Quantity)
	case commissioning.AskText:
		return "type words"
	case commissioning.AskChoice:
		return "choose one of " + fmt.Sprint(len(s.Options))
	case commissioning.AskDrain:
		return "type what went into " + s.Container + limitWords(s)
	case commissioning.AskLoad:
		return "load: code, lot, expiry, level" + levelWords(s)
	case commissioning.AskPhoto:
		return "take a photo"
	case commissioning.AskStart:
		return "start the jet"
	case commissioning.AskSample:
		return "read the print sample and type it"
	case commissioning.AskGate:
		return "opens when the " + s.Gate + " gate is met"
	}
	return string(s.Ask)
}

func limitWords(s commissioning.Step) string {
	if s.FillAtMostPercent == "" {
		return ""
	}
	return ", filled to " + s.FillAtMostPercent + " % at most"
}

func levelWords(s commissioning.Step) string {
	if s.LevelAtLeastPercent == "" {
		return ""
	}
	return ", at least " + s.LevelAtLeastPercent + " % full"
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
func wanted(q commissioning.Quantity) string {
	switch {
	case q.State != nil && *q.State:
		return "must be on"
	case q.State != nil:
		return "must be off"
	case q.Tolerance == nil:
		return "recorded"
	case q.Tolerance.Lower != "" || q.Tolerance.Upper != "":
		return q.Tolerance.Lower + " to " + q.Tolerance.Upper
	}
	target := "target by temperature"
	if q.Target != nil && q.Target.Value != "" {
		target = q.Target.Value
	}
	if q.Tolerance.Percent != "" {
		return target + " ±" + q.Tolerance.Percent + " %"
	}
	return target + " ±" + q.Tolerance.Absolute
}

func everyWords(q commissioning.Quantity) string {
	if q.Cadence.Text == "" {
		return ""
	}
	return "every " + parts.Span(q.Cadence.D).String() + ", " + parts.Span(q.MaxGap.D).String() + " apart at most"
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

func (v RevisionView) expectedFaults() string {
	var out []string
	for _, e := range v.Faults.Expected {
		out = append(out, fmt.Sprintf("%s, %d at most", e.Kind, e.AtMost))
	}
	if len(out) == 0 {
		return "None"
	}
	return strings.Join(out, "; ")
}
