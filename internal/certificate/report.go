package certificate

import (
	"fmt"
	"time"
)

// Verdict is what a certificate file is worth, in the order of exit statuses.
type Verdict int

// The verdicts. Of several that apply, the first of 2, 1, 3, 5, 4 is given.
const (
	Genuine   Verdict = iota // genuine and valid
	Altered                  // the file does not say what was released
	NotOurs                  // not one of ours, or unreadable
	Revoked                  // genuine, withdrawn or superseded
	Unsettled                // genuine; the status list is missing or too old
	Expired                  // genuine, past its last day
)

var verdictWords = [...]string{
	"genuine and valid", "altered", "not one of ours, or unreadable",
	"genuine, but withdrawn or superseded", "genuine, but its status is not known", "genuine, but expired",
}

func (v Verdict) String() string { return verdictWords[v] }

var precedence = []Verdict{NotOurs, Altered, Revoked, Expired, Unsettled}

// Outcome of one check.
type Outcome string

// The outcomes of a check.
const (
	OK      Outcome = "ok"
	Failed  Outcome = "failed"
	Foreign Outcome = "not ours"    // not signed by anybody whom the verifier was told to trust
	Against Outcome = "against"     // genuine, and yet not to be relied on
	Open    Outcome = "not known"   // it needs newer knowledge
	Skipped Outcome = "not checked" // this build can't, or an earlier check failed
)

// Check is one thing that was looked at, and what came of it.
type Check struct {
	Name    string  `json:"check"`
	Outcome Outcome `json:"outcome"`
	Text    string  `json:"text"`
}

// Report is what Verify found. What the certificate says of itself is empty
// unless it is genuine.
type Report struct {
	Verdict    Verdict    `json:"verdict"`
	Words      string     `json:"words"`
	Checks     []Check    `json:"checks"`
	Number     string     `json:"number,omitempty"`
	Digest     string     `json:"digest,omitempty"` // hex SHA-256 of the record
	Unit       string     `json:"unit,omitempty"`
	Status     string     `json:"status,omitempty"` // valid, expired, superseded, withdrawn or unknown
	ReleasedAt *time.Time `json:"released_at,omitempty"`
	ValidUntil *time.Time `json:"valid_until,omitempty"`
}

// FirstNot gives the first check that did not come out well, false if all did.
func (r Report) FirstNot(well Outcome) (Check, bool) {
	for _, c := range r.Checks {
		if c.Outcome != well {
			return c, true
		}
	}
	return Check{}, false
}

// Text is the report for people: a line a check, and the verdict.
func (r Report) Text() string {
	out := ""
	for _, c := range r.Checks {
		out += fmt.Sprintf("%-12s %-12s %s\n", c.Outcome, c.Name, c.Text)
	}
	out += "verdict: " + r.Words
	if r.Number != "" {
		out += fmt.Sprintf(": certificate %s, unit %s, released %s", r.Number, printable(r.Unit), r.ReleasedAt.Format(time.RFC3339))
		if r.ValidUntil != nil {
			out += ", valid until " + r.ValidUntil.Format(time.RFC3339)
		}
	}
	return out + "\n"
}
