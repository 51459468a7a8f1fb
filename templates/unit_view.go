package templates

import (
	"strconv"

	"settlemark/internal/commissioning"
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
		lines = append(lines, parts.Option{Value: strconv.FormatInt(l.ID, 10), Label: l.Name + ", " + siteName(l.Site, c.Sites)})
	}
	for _, f := range c.Fluids {
		option := parts.Option{Value: f.Code, Label: f.Code + ", " + f.Name}
		if f.Position == commissioning.MakeUp {
			makeups = append(makeups, option)
		} else {
			inks = append(inks, option)
		}
	}
	return []parts.Input{
		{Name: "line", Label: "Line", Required: true, Options: lines},
		{Name: "serial", Label: "Serial number, from its plate", Required: true, Mono: true, MaxLength: 40},
		{Name: "ink", Label: "Ink that it is built for", Required: true, Options: inks},
		{Name: "makeup", Label: "Make-up that it is built for", Required: true, Options: makeups},
	}
}

// UnitsView is the list of units with the form that adds one.
type UnitsView struct {
	Units     []commissioning.Unit
	Choices   UnitChoices
	Form      parts.Form
	MayChange bool
}

// UnitView is one unit with its runs, newest first, and the acts about it.
type UnitView struct {
	Unit      commissioning.Unit
	Site      commissioning.Site
	Runs      []commissioning.Run
	Acts      []ActLine
	Names     map[commissioning.PersonID]string
	Choices   UnitChoices
	Form      parts.Form
	Changing  bool
	MayChange bool
	MayOpen   bool
	MayRead   bool // runs and certificates
}

// live gives the run that is going on, nil when the unit is free.
func (v UnitView) live() *commissioning.Run {
	for i, r := range v.Runs {
		if r.State == commissioning.Open || r.State == commissioning.Submitted {
			return &v.Runs[i]
		}
	}
	return nil
}
