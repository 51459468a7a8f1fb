package templates

import (
	"strconv"
	"time"

	"settlemark/internal/commissioning"
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
		lines = append(lines, parts.Option{Value: strconv.FormatInt(l.ID, 10), Label: words.Plain(l.Name + ", " + siteName(l.Site, c.Sites))})
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

// standing is what may be relied on today, in one sentence around the number of
// the newest certificate; stands says whether a release does.
func (v UnitView) standing() (before, after string, stands bool) {
	if v.Newest == nil {
		return "Nothing stands: no run of this unit has been released.", "", false
	}
	c := *v.Newest
	s := c.Standing(v.Now)
	switch s.Status {
	case commissioning.Valid:
		if c.ValidUntil == nil {
			return "Released under ", ", without an end set by its procedure.", true
		}
		return "Released under ", " until " + parts.DayMinute(*c.ValidUntil, c.TimeZone) + ".", true
	case commissioning.Expired:
		return "Nothing stands: ", " expired on " + parts.DayMinute(s.At, c.TimeZone) + ".", false
	}
	// The newest is superseded by none.
	return "Nothing stands: ", " was withdrawn on " + parts.DayMinute(s.At, c.TimeZone) + " by " + s.By + ". " + s.Reason, false
}

// renewal says how soon the release that stands ends, "" while that is far off.
func (v UnitView) renewal() string {
	if v.Newest == nil {
		return ""
	}
	if days, soon := v.Newest.Expiring(v.Now); soon {
		return "It " + parts.ExpiresIn(days).String() + "."
	}
	return ""
}
