package commissioning

import (
	"strings"
	"time"

	"settlemark/internal/words"
)

// EventKind is what happened to a unit after a release. Each ends the release
// that stands.
type EventKind string

const (
	FluidChanged EventKind = "fluid"
	Repaired     EventKind = "repair"
	Moved        EventKind = "move"
	ShutDown     EventKind = "shutdown"
	OtherEvent   EventKind = "other"
)

// EventKinds in the order in which they are offered.
var EventKinds = []EventKind{FluidChanged, Repaired, Moved, ShutDown, OtherEvent}

// Name is how a sentence calls it.
func (k EventKind) Name() words.Text {
	switch k {
	case FluidChanged:
		return words.Say("change of fluid")
	case Repaired:
		return words.Say("repair")
	case Moved:
		return words.Say("move")
	case ShutDown:
		return words.Say("long shutdown")
	case OtherEvent:
		return words.Say("other event")
	}
	return words.Plain(string(k))
}

// Word is its name as records and procedures write it.
func (k EventKind) Word() string { return k.Name().String() }

// named are words of a procedure's voided_by that speak of a kind.
var named = map[EventKind][]string{
	FluidChanged: {"fluid"},
	Repaired:     {"repair", "work on"},
	Moved:        {"move"},
	ShutDown:     {"shutdown", "standstill"},
}

// Clause is what the procedure's voided_by says of this kind in its own words,
// "" when it does not name it. "Work on the fluid circuit" is a repair, though
// it speaks of fluid.
func (k EventKind) Clause(voidedBy []string) string {
	for _, clause := range voidedBy {
		if kindOf(clause) == k {
			return clause
		}
	}
	return ""
}

func kindOf(clause string) EventKind {
	clause = strings.ToLower(clause)
	for _, k := range []EventKind{Repaired, Moved, ShutDown, FluidChanged} {
		for _, word := range named[k] {
			if strings.Contains(clause, word) {
				return k
			}
		}
	}
	return OtherEvent
}

// UnitEvent is one event at a unit, as recorded.
type UnitEvent struct {
	ID         string // UUID, made by the form
	Unit       string
	Site       SiteID
	Kind       EventKind
	Detail     string
	HappenedAt time.Time // as said
	RecordedAt time.Time
	Name       string            // of who recorded it
	Voided     CertificateNumber // the certificate that it ended, "" for none
}
