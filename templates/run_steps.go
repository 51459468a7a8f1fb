package templates

import (
	"strings"

	"github.com/a-h/templ"

	"settlemark/internal/chart"
	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

var (
	positions = []parts.Option{{Value: "ink", Label: words.Say("Ink place")}, {Value: "makeup", Label: words.Say("Make-up place")}}
	yesNo     = []parts.Option{{Value: "true", Label: words.Say("Yes")}, {Value: "false", Label: words.Say("No")}}
)

// templRaw writes markup that our own chart package has made and escaped.
func templRaw(markup string) templ.Component { return templ.Raw(markup) }

func options(values []string) []parts.Option {
	out := make([]parts.Option, len(values))
	for i, w := range values {
		out[i] = parts.Option{Value: w, Label: words.Plain(w)}
	}
	return out
}

// unitsLike lists the units of the same kind, the given one first.
func unitsLike(unit string) []string {
	kind, ok := measure.KindOf(unit)
	if !ok {
		return nil
	}
	units := []string{unit}
	for _, u := range measure.UnitsOf(kind) {
		if u != unit {
			units = append(units, u)
		}
	}
	return units
}

func (v RunView) units(quantity string) []string {
	q, _ := v.Quantity(quantity)
	return unitsLike(q.Unit)
}

// limitsHint says between which limits a fixed target puts a value.
func (v RunView) limitsHint(quantity string) words.Text {
	q, ok := v.Quantity(quantity)
	if !ok {
		return words.Text{}
	}
	hint := words.Say("Read it off the unit, in %s.", measure.Sign(q.Unit))
	if limits, ok := fixedLimits(q); ok {
		hint = words.Say("Read it off the unit, in %s. Between %s and %s.", measure.Sign(q.Unit), words.Number(limits.Lower.Shown()), words.Number(limits.Upper.Shown()))
	}
	return hint
}

func (v RunView) codeHint(step *commissioning.Step) words.Text {
	if step == nil {
		return words.Say("Read it off the label.")
	}
	return words.Say("Read it off the label. %s takes %s.", v.Unit.Tag, v.Wanted(*step))
}

// scanUnit reads the tag of a unit.
var scanUnit = parts.Scan{What: "unit", Label: words.Say("Scan the unit's tag"), Other: words.Say("That is not the tag of a unit."), None: words.Say("No camera here. Type the tag.")}

// scanFluid reads the tag of a container. That ink and make-up are not swapped
// is seen before anything is filled in, also without the server.
func (v RunView) scanFluid(step *commissioning.Step) parts.Scan {
	s := parts.Scan{What: "fluid", Label: words.Say("Scan the tag"), Other: words.Say("That is not the tag of a fluid."), None: words.Say("No camera here. Type the code twice.")}
	if step != nil {
		s.Takes = v.Wanted(*step)
		s.Wrong = words.Say("This is %s. %s takes %s here. Do not connect it.", "%s", v.Unit.Tag, s.Takes)
	}
	return s
}

// Wanted is the fluid code that a load step asks for.
func (v RunView) Wanted(step commissioning.Step) string {
	switch step.Fluid {
	case string(commissioning.Ink):
		return v.Unit.Ink
	case string(commissioning.MakeUp):
		return v.Unit.Makeup
	}
	return step.Fluid
}

func levelHint(step *commissioning.Step) words.Text {
	if step == nil || step.LevelAtLeastPercent == "" {
		return words.Say("How full it is.")
	}
	return words.Say("At least %s %%.", words.Number(step.LevelAtLeastPercent))
}

func lastPhoto(answers []commissioning.Entry) *commissioning.Entry {
	for i := len(answers) - 1; i >= 0; i-- {
		if answers[i].Kind == commissioning.KindPhoto {
			return &answers[i]
		}
	}
	return nil
}

// Step of the procedure by its id, nil when there is none.
func (v RunView) Step(id string) *commissioning.Step {
	for i, st := range v.Exam.Steps {
		if st.Step.ID == id {
			return &v.Exam.Steps[i].Step
		}
	}
	return nil
}

func (v RunView) faultOptions() []parts.Option {
	var out []parts.Option
	for _, f := range v.Procedure.Faults.Expected {
		out = append(out, parts.Option{Value: f.Kind, Label: faultName(f.Kind)})
	}
	for _, kind := range v.Procedure.Faults.Others {
		out = append(out, parts.Option{Value: kind, Label: faultName(kind)})
	}
	return append(out, parts.Option{Value: "other", Label: words.Say("Another one, say which")})
}

func (v RunView) wasteSVG(l words.Language, c rules.Container, form string) string {
	return chart.Waste(l, c, 0, 110, 190).Named("waste", "waste-"+safeID(form)+"-").SVG()
}

// safeID makes a name fit for the id of an element.
func safeID(name string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' {
			return r
		}
		return '-'
	}, name)
}

// fixedLimits of a quantity whose target does not move with another one.
func fixedLimits(q commissioning.Quantity) (measure.Limits, bool) {
	if q.Tolerance == nil {
		return measure.Limits{}, false
	}
	if q.Tolerance.Lower != "" {
		return measure.Within(measure.Must(q.Tolerance.Lower), measure.Must(q.Tolerance.Upper)), true
	}
	if q.Target == nil || q.Target.Value == "" {
		return measure.Limits{}, false
	}
	target := measure.Must(q.Target.Value)
	if q.Tolerance.Percent != "" {
		return measure.WithinPercent(target, measure.Must(q.Tolerance.Percent)), true
	}
	return measure.WithinAbsolute(target, measure.Must(q.Tolerance.Absolute)), true
}
