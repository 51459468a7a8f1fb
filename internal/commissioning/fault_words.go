package commissioning

import (
	"strings"

	"settlemark/internal/words"
)

// faultNames are the usual kinds of faults, so that they can be said in every
// language. A procedure may name others.
var faultNames = map[string]words.Text{
	"pressure":         words.Say("pressure"),
	"gutter":           words.Say("gutter"),
	"over_temperature": words.Say("over temperature"),
	"charge":           words.Say("charge"),
	"high_voltage":     words.Say("high voltage"),
	"level":            words.Say("level"),
	"cover_open":       words.Say("cover open"),
	"other":            words.Say("other"),
}

// FaultName says which kind of fault a key of a procedure stands for.
func FaultName(kind string) words.Text {
	if name, usual := faultNames[kind]; usual {
		return name
	}
	return words.Plain(strings.ReplaceAll(kind, "_", " "))
}

// GateName says which gate a key of a procedure stands for.
func GateName(gate string) words.Text {
	switch gate {
	case GateFluids:
		return words.Say("fluids")
	case GateFaults:
		return words.Say("faults")
	case GateViscosity:
		return words.Say("viscosity")
	case GateHold:
		return words.Say("hold")
	}
	return words.Plain(gate)
}
