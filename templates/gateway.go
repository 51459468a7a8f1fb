package templates

import (
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// GatewayView is one gateway with its tokens.
type GatewayView struct {
	Logger  commissioning.Logger
	Tokens  []commissioning.LoggerToken
	MayMake bool // and end them
	Form    parts.Form
	Proving parts.Proving
	Now     time.Time
}

// Reports says in words what a gateway may report.
func Reports(l commissioning.Logger) words.Text {
	if len(l.Quantities) == 0 {
		return words.Say("everything")
	}
	return words.Plain(strings.Join(l.Quantities, ", "))
}

var tokenScopes = []parts.Option{
	{Value: string(commissioning.ReportScope), Label: words.Say("To report readings, faults, starts and stops")},
	{Value: string(commissioning.ReadScope), Label: words.Say("To read runs and certificates of its units")},
}

func scopeWords(s commissioning.TokenScope) words.Text {
	if s == commissioning.ReadScope {
		return words.Say("Reads")
	}
	return words.Say("Reports")
}

// stands says whether a token is good now, and until when.
func stands(ended *time.Time, expires, now time.Time, zone string) words.Text {
	switch {
	case ended != nil:
		return words.Say("Ended %s", parts.DayMinute(*ended, zone))
	case !now.Before(expires):
		return words.Say("Ran out %s", parts.DayMinute(expires, zone))
	}
	return words.Say("Good until %s", parts.DayMinute(expires, zone))
}

func used(at *time.Time, zone string) words.Text {
	if at == nil {
		return words.Say("Never")
	}
	return words.Plain(parts.DayMinute(*at, zone))
}

// clockWords says how far the gateway's clock is off; a positive offset is a
// clock that is slow.
func clockWords(t commissioning.LoggerToken) words.Text {
	if t.OffsetMS == nil {
		return words.Say("Not told")
	}
	off := (time.Duration(*t.OffsetMS) * time.Millisecond).Round(time.Second)
	switch {
	case off.Abs() <= 2*time.Second:
		return words.Say("Right")
	case off > 0:
		return words.Say("%s slow", words.Lasting(off))
	}
	return words.Say("%s fast", words.Lasting(-off))
}
