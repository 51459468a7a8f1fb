package templates

import (
	"strconv"
	"time"

	"github.com/a-h/templ"

	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// UnitChoices is what the form of a unit offers.
type UnitChoices struct {
	Sites  []commissioning.Site
	Lines  []commissioning.Line
	Fluids []commissioning.Fluid
}

func (c UnitChoices) inputs() []parts.Input {
	lines, inks, makeups := []parts.Option{}, []parts.Option{}, []parts.Option{}
	for _, l := range c.Lines {
		lines = append(lines, parts.Option{Value: strconv.FormatInt(l.ID, 10), Label: words.Join(", ", words.Plain(l.Name), siteName(l.Site, c.Sites))})
	}
	for _, f := range c.Fluids {
		option := parts.Option{Value: f.Code, Label: words.Plain(f.Code + ", " + f.Name)}
		if f.Position == commissioning.MakeUp {
			makeups = append(makeups, option)
		} else {
			inks = append(inks, option)
		}
	}
	return []parts.Input{
		{Name: "line", Label: words.Say("Line"), Required: true, Options: lines},
		{Name: "serial", Label: words.Say("Serial number, from its plate"), Required: true, Mono: true, MaxLength: 40},
		{Name: "ink", Label: words.Say("Ink that it is built for"), Required: true, Options: inks},
		{Name: "makeup", Label: words.Say("Make-up that it is built for"), Required: true, Options: makeups},
	}
}

// UnitsView is the list of units with the form that adds one.
type UnitsView struct {
	Units     []commissioning.Unit
	Choices   UnitChoices
	Form      parts.Form
	MayChange bool
}

// UnitView is one unit with what stands of it, its history, newest first, and
// the acts about it.
type UnitView struct {
	Unit      commissioning.Unit
	Site      commissioning.Site
	Now       time.Time
	Newest    *commissioning.Certificate // nil before the first release
	History   []UnitLine
	Signed    map[commissioning.RunID][]commissioning.Signature
	Acts      []ActLine
	Names     map[commissioning.PersonID]string
	Choices   UnitChoices
	Form      parts.Form
	Changing  bool
	MayChange bool
	MayOpen   bool
	MayRecord bool // what happened to the unit
	MayRead   bool // runs and certificates
}

// UnitLine is one line of a unit's history: a run with its stick and its
// certificate, or an event.
type UnitLine struct {
	Run         *commissioning.Run
	Stick       []string // the state of each section; nil where it was not looked at
	Certificate *commissioning.Certificate
	Event       *commissioning.UnitEvent
}

// At is the instant by which lines are ordered.
func (l UnitLine) At() time.Time {
	if l.Event != nil {
		return l.Event.HappenedAt
	}
	return l.Run.OpenedAt
}

// live gives the run that is going on, nil when the unit is free.
func (v UnitView) live() *commissioning.Run {
	for _, l := range v.History {
		if l.Run != nil && (l.Run.State == commissioning.Open || l.Run.State == commissioning.Submitted) {
			return l.Run
		}
	}
	return nil
}

// standing is what may be relied on today, in one sentence with the number of
// the newest certificate; stands says whether a release does.
func (v UnitView) standing() (sentence templ.Component, stands bool) {
	if v.Newest == nil {
		return parts.Sentence("Nothing stands: no run of this unit has been released."), false
	}
	c := *v.Newest
	s := c.Standing(v.Now)
	number := parts.Link(urls.Certificate(c.Number), words.Plain(string(c.Number)))
	at := parts.Piece(parts.DayMinute(s.At, c.TimeZone))
	switch s.Status {
	case commissioning.Valid:
		if c.ValidUntil == nil {
			return parts.Sentence("Released under %s, without an end set by its procedure.", number), true
		}
		return parts.Sentence("Released under %s until %s.", number, parts.Piece(parts.DayMinute(*c.ValidUntil, c.TimeZone))), true
	case commissioning.Expired:
		return parts.Sentence("Nothing stands: %s expired on %s.", number, at), false
	}
	// The newest is superseded by none.
	return parts.Sentence("Nothing stands: %s was withdrawn on %s by %s. %s", number, at, parts.Piece(s.By), parts.Said(s.Reason)), false
}

// renewal says how soon the release that stands ends, nothing while that is far off.
func (v UnitView) renewal() words.Text {
	if v.Newest == nil {
		return words.Text{}
	}
	if days, soon := v.Newest.Expiring(v.Now); soon {
		return itExpires(days)
	}
	return words.Text{}
}
