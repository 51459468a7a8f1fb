package rules

import (
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// clock says an instant to a person at the site: 10:12, with the day in front
// when it is not the day of judgement.
func (r *record) clock(t time.Time) clock {
	local := t.In(r.zone)
	return clock{local, local.Format(time.DateOnly) == r.at.In(r.zone).Format(time.DateOnly)}
}

type clock struct {
	local time.Time
	today bool
}

// In writes the instant as a sentence needs it that says when: in English after
// "at", in German with its preposition.
func (c clock) In(l words.Language) string {
	switch {
	case l == words.German && c.today:
		return c.local.Format("um 15:04")
	case l == words.German:
		return c.local.Format("am 2006-01-02 um 15:04")
	case c.today:
		return c.local.Format("15:04")
	}
	return c.local.Format("2 January 2006 15:04")
}

// limit is a duration of the procedure: in English as it stands there.
type limit commissioning.Duration

func (d limit) In(l words.Language) string {
	if l == words.English {
		return commissioning.Duration(d).String()
	}
	return words.Lasting(d.D).In(l)
}

// faultKey is the key of a fault: in English as it stands in the entry.
type faultKey string

func (k faultKey) In(l words.Language) string {
	if l == words.English {
		return string(k)
	}
	return commissioning.FaultName(string(k)).In(l)
}

// place names what goes into a position.
func place(p commissioning.Position) words.Text {
	if p == commissioning.MakeUp {
		return words.Say("make-up")
	}
	return words.Say("ink")
}

// gateNames are the gates as sentences name them.
var gateNames = map[string]words.Text{
	commissioning.GateFluids:    words.Say("fluids"),
	commissioning.GateFaults:    words.Say("faults"),
	commissioning.GateViscosity: words.Say("viscosity"),
	commissioning.GateHold:      words.Say("hold"),
}
