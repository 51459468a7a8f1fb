package chart

import (
	"math"

	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// targetSteps is how finely the line between two points is drawn.
const targetSteps = 16

// Targets draws a target by temperature: its points, the line that the rules
// draw between them, and the band around it where limits gives one. There is
// nothing outside the first and the last point, since the rules look no farther.
func Targets(l words.Language, title, unit string, points []measure.Point, limits func(target measure.Decimal) measure.Limits, width, height float64) Chart {
	d := targets{sheet: sheet{w: width, h: height}, plot: box{58, 16, width - 18, height - 46}}
	line := d.sample(points, limits)
	d.scale(line)
	d.drawBand(line)
	d.drawLine(line)
	d.drawPoints(l, points, unit)
	first, last := points[0], points[len(points)-1]
	said := func(d measure.Decimal) words.Number { return words.Number(d.String()) }
	story := words.Say("%d points: %s %s at %s °C to %s %s at %s °C.",
		len(points), said(first.Value), unit, said(first.At), said(last.Value), unit, said(last.At))
	return Chart{Width: tenth(width), Height: tenth(height), Title: title, Story: story.In(l), Marks: d.marks}
}

// targets is a curve while it is drawn.
type targets struct {
	sheet
	plot           box
	t0, t1, v0, v1 float64
}

// aimed is the target at one temperature with its limits.
type aimed struct{ at, value, lower, upper float64 }

// sample asks the curve itself, so that the picture is what the rules use.
func (d *targets) sample(points []measure.Point, limits func(measure.Decimal) measure.Limits) []aimed {
	curve := measure.NewCurve(points)
	var out []aimed
	add := func(celsius measure.Decimal) {
		value, _ := curve.At(celsius)
		a := aimed{celsius.Float(), value.Float(), value.Float(), value.Float()}
		if limits != nil {
			l := limits(value)
			a.lower, a.upper = l.Lower.Float(), l.Upper.Float()
		}
		out = append(out, a)
	}
	for i := 1; i < len(points); i++ {
		from, way := points[i-1].At, points[i].At.Minus(points[i-1].At)
		for step := range int64(targetSteps) {
			add(from.Plus(way.Times(measure.Whole(step)).Over(measure.Whole(targetSteps))))
		}
	}
	add(points[len(points)-1].At)
	return out
}

// scale leaves a tenth of the height free above and below.
func (d *targets) scale(line []aimed) {
	d.t0, d.t1 = line[0].at, line[len(line)-1].at
	d.v0, d.v1 = math.Inf(1), math.Inf(-1)
	for _, a := range line {
		d.v0, d.v1 = math.Min(d.v0, a.lower), math.Max(d.v1, a.upper)
	}
	air := math.Max((d.v1-d.v0)/10, d.v1*1e-3)
	d.v0, d.v1 = d.v0-air, d.v1+air
}

func (d *targets) on(at, value float64) pt {
	return pt{
		d.plot.x0 + (d.plot.x1-d.plot.x0)*(at-d.t0)/(d.t1-d.t0),
		d.plot.y1 - (d.plot.y1-d.plot.y0)*(value-d.v0)/(d.v1-d.v0),
	}
}

func (d *targets) drawBand(line []aimed) {
	if line[0].lower == line[0].upper {
		return
	}
	var upper, lower, around []pt
	for i := range line {
		upper = append(upper, d.on(line[i].at, line[i].upper))
		lower = append(lower, d.on(line[i].at, line[i].lower))
	}
	around = append(around, upper...)
	for i := len(lower) - 1; i >= 0; i-- {
		around = append(around, lower[i])
	}
	d.area(RoleBand, Band, pen{}, around...)
	for _, edge := range [][]pt{upper, lower} {
		d.line(RoleLimit, pen{ink: Limit, width: 1.5}, edge...)
	}
}

func (d *targets) drawLine(line []aimed) {
	d.line(RoleAxis, pen{ink: Frame, width: 1.5}, pt{d.plot.x0, d.plot.y0}, pt{d.plot.x0, d.plot.y1}, pt{d.plot.x1, d.plot.y1})
	var pts []pt
	for _, a := range line {
		pts = append(pts, d.on(a.at, a.value))
	}
	d.line(RoleTarget, pen{ink: Black, width: 2}, pts...)
}

func (d *targets) drawPoints(l words.Language, points []measure.Point, unit string) {
	said := func(d measure.Decimal) string { return words.Number(d.String()).In(l) }
	d.place(label{role: RoleAxis, lines: []string{"°C"}, size: 13, ink: Second, spots: []spot{{d.plot.x1, d.h - 6, End}}})
	d.place(label{role: RoleAxis, lines: []string{unit}, size: 13, ink: Second, spots: []spot{{2, 12, Start}}})
	for _, p := range points {
		at := d.on(p.At.Float(), p.Value.Float())
		d.dot(RolePoint, Black, pen{}, at, 4.5)
		d.soft = append(d.soft, box{at.x - 5, at.y - 5, at.x + 5, at.y + 5})
	}
	for _, p := range points {
		at := d.on(p.At.Float(), p.Value.Float())
		d.line(RoleAxis, pen{ink: Frame, width: 1.5}, pt{at.x, d.plot.y1}, pt{at.x, d.plot.y1 + 5})
		d.place(label{role: RoleAxis, lines: []string{said(p.At)}, size: 13, ink: Black, spots: []spot{{at.x, d.plot.y1 + 20, Middle}}})
		d.place(label{role: RoleValue, lines: []string{said(p.Value)}, size: 14, bold: true, ink: Black, shy: true, spots: []spot{
			{at.x + 8, at.y - 8, Start}, {at.x - 8, at.y - 8, End},
		}})
	}
}
