package templates

import (
	"fmt"
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
func Reports(l commissioning.Logger) string {
	if len(l.Quantities) == 0 {
		return "everything"
	}
	return strings.Join(l.Quantities, ", ")
}

var tokenScopes = []parts.Option{
	{Value: string(commissioning.ReportScope), Label: words.Say("To report readings, faults, starts and stops")},
	{Value: string(commissioning.ReadScope), Label: words.Say("To read runs and certificates of its units")},
}

func scopeWords(s commissioning.TokenScope) string {
	if s == commissioning.ReadScope {
		return "Reads"
	}
	return "Reports"
}

// stands says whether a token is good now, and until when.
func (v GatewayView) stands(t commissioning.LoggerToken, zone string) string {
	switch {
	case t.EndedAt != nil:
		return "Ended " + parts.DayMinute(*t.EndedAt, zone)
	case !t.StandsAt(v.Now):
		return "Ran out " + parts.DayMinute(t.ExpiresAt, zone)
	}
	return "Good until " + parts.DayMinute(t.ExpiresAt, zone)
}

func used(t commissioning.LoggerToken, zone string) string {
	if t.UsedAt == nil {
		return "Never"
	}
	return parts.DayMinute(*t.UsedAt, zone)
}

// clockWords says how far the gateway's clock is off; a positive offset is a
// clock that is slow.
func clockWords(t commissioning.LoggerToken) string {
	if t.OffsetMS == nil {
		return "Not told"
	}
	off := (time.Duration(*t.OffsetMS) * time.Millisecond).Round(time.Second)
	switch {
	case off.Abs() <= 2*time.Second:
		return "Right"
	case off > 0:
		return fmt.Sprintf("%s slow", off)
	}
	return fmt.Sprintf("%s fast", -off)
}
