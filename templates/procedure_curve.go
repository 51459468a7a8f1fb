package templates

import (
	"github.com/a-h/templ"

	"settlemark/internal/chart"
	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// curvePicture draws a target by temperature, with its band where the limits
// follow the target.
func curvePicture(l words.Language, q commissioning.Quantity) templ.Component {
	var points []measure.Point
	for _, p := range q.Target.Curve {
		points = append(points, measure.Point{At: measure.Must(p.At), Value: measure.Must(p.Value)})
	}
	title := words.Say("%s, target by temperature", q.Label).In(l)
	return templRaw(chart.Targets(l, title, measure.Sign(q.Unit), points, around(q.Tolerance), 460, 220).Named("targets", "curve-"+q.Key+"-").SVG())
}

// around gives the limits around a target; nil where they do not follow it.
func around(t *commissioning.Tolerance) func(measure.Decimal) measure.Limits {
	switch {
	case t != nil && t.Percent != "":
		return func(target measure.Decimal) measure.Limits {
			return measure.WithinPercent(target, measure.Must(t.Percent))
		}
	case t != nil && t.Absolute != "":
		return func(target measure.Decimal) measure.Limits {
			return measure.WithinAbsolute(target, measure.Must(t.Absolute))
		}
	}
	return nil
}

// limitsAt are the limits at one point of a curve, as the rules print them.
func limitsAt(q commissioning.Quantity, p commissioning.CurvePoint) words.Text {
	if limits := around(q.Tolerance); limits != nil {
		l := limits(measure.Must(p.Value))
		return between(l.Lower.String(), l.Upper.String())
	}
	if q.Tolerance != nil {
		return between(q.Tolerance.Lower, q.Tolerance.Upper)
	}
	return words.Say("none")
}
