package commissioning

import (
	"time"

	"settlemark/internal/words"
)

// Event is one of the few things of a run that somebody is told of at once.
// Everything else stands on the board.
type Event string

const (
	EventStopped Event = "stopped" // the hold stopped, or a fault stands
	EventCheck   Event = "check"   // a check that is typed is due
	EventReady   Event = "ready"   // the hold is complete
	EventWaiting Event = "waiting" // a supervisor's signature is needed
)

// Events are all of them, in the order in which pages list them.
var Events = []Event{EventStopped, EventCheck, EventReady, EventWaiting}

// Words are what people are told.
func (e Event) Words() words.Text {
	switch e {
	case EventStopped:
		return words.Say("The hold stopped, or a fault stands")
	case EventCheck:
		return words.Say("A check that you type is due")
	case EventReady:
		return words.Say("The hold is complete")
	case EventWaiting:
		return words.Say("A run waits for the second signature")
	}
	return words.Plain(string(e))
}

// Moment is one occurrence of an event. Its key names it within the run, so
// that it is told once however often the run is looked at.
type Moment struct {
	Event Event
	Key   string
	At    time.Time
	Text  string // a whole sentence
}

// Notice is a moment that was told.
type Notice struct {
	ID   int64
	Run  RunID
	Unit string // tag
	Site SiteID
	Moment
	People []PersonID `json:"-"` // whom it concerns; nobody else is told of it
	ToldAt time.Time  `json:"-"` // when it was kept, on the server's clock
}
