package chart

import (
	"math"
	"strconv"

	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// MostIndividuals is how many readings are still told apart on the sheet.
const MostIndividuals = 200

// Individuals draws the readings of a hold above, and how far each lies from the
// one before it below, each with its mean and the limits of its own scatter (not
// those of the procedure).
func Individuals(s rules.Stability, o Options) Chart {
	o = o.filled()
	split := o.Height * 0.6
	d := individuals{sheet: sheet{w: o.Width, h: o.Height}, s: s, o: o}
	d.above = panel{sheet: &d.sheet, o: o, plot: box{8, 26, o.Width - 76, split - 8}}
	d.below = panel{sheet: &d.sheet, o: o, plot: box{8, split + 26, o.Width - 76, o.Height - 30}}
	v := s.Individuals
	d.above.scale(append([]float64{v.Lower, v.Upper}, s.Values...)...)
	d.below.scale(append([]float64{0, v.UpperRange}, d.ranges()...)...)
	d.drawReadings()
	d.drawRanges()
	d.drawTimes()
	return Chart{
		Width: tenth(o.Width), Height: tenth(o.Height), Title: words.Say("%s over the hold, reading by reading", s.Quantity.Label).In(o.Language),
		Story: d.story().In(o.Language), Marks: d.marks, class: o.Class, prefix: o.Prefix,
	}
}

// individuals is the chart in the making.
type individuals struct {
	sheet
	s            rules.Stability
	o            Options
	above, below panel
}

// panel is one of the two plots.
type panel struct {
	*sheet
	o      Options
	plot   box
	v0, v1 float64
}

func (p *panel) scale(values ...float64) {
	p.v0, p.v1 = math.Inf(1), math.Inf(-1)
	for _, v := range values {
		p.v0, p.v1 = math.Min(p.v0, v), math.Max(p.v1, v)
	}
	if p.v0 == p.v1 {
		p.v0, p.v1 = p.v0-1, p.v1+1
	}
}

func (p *panel) y(v float64) float64 {
	return p.plot.y1 - (p.plot.y1-p.plot.y0)*(v-p.v0)/(p.v1-p.v0)
}

// level is a line across the plot with its number at the right.
func (p *panel) level(role Role, v float64, dash ...float64) {
	y := p.y(v)
	p.line(role, pen{ink: Limit, width: 1.5, dash: dash}, pt{p.plot.x0, y}, pt{p.plot.x1, y})
	p.place(label{role: RoleLimit, lines: []string{p.o.number(short(v))}, size: 13, ink: Black, spots: []spot{{p.plot.x1 + 8, y + 5, Start}}})
}

// short writes a number with four digits, as the advice beside it does.
func short(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }

func (d *individuals) x(i int) float64 {
	whole := d.s.To.Sub(d.s.From).Hours()
	if whole == 0 {
		return d.above.plot.x0
	}
	return d.above.plot.x0 + 6 + (d.above.plot.x1-d.above.plot.x0-12)*d.s.Hours[i]/whole
}

// joined says whether a reading has a range to the one before it.
func (d *individuals) joined(i int) bool {
	return i > 0 && d.s.Hours[i]-d.s.Hours[i-1] <= d.s.Quantity.MaxGap.D.Hours()
}

func (d *individuals) ranges() []float64 {
	var out []float64
	for i := range d.s.Values {
		if d.joined(i) {
			out = append(out, math.Abs(d.s.Values[i]-d.s.Values[i-1]))
		}
	}
	return out
}

func (d *individuals) drawReadings() {
	v, p := d.s.Individuals, &d.above
	p.place(label{role: RoleLabel, lines: []string{words.Say("readings, %s", measure.Sign(d.s.Quantity.Unit)).In(d.o.Language)}, size: 13, bold: true, ink: Black, spots: []spot{{p.plot.x0, p.plot.y0 - 12, Start}}})
	if v.Ranges > 0 {
		p.level(RoleLimit, v.Upper)
		p.level(RoleLimit, v.Lower)
	}
	p.level(RoleTarget, v.Mean, 2, 5)
	for i, value := range d.s.Values {
		at := pt{d.x(i), p.y(value)}
		if d.joined(i) {
			d.line(RoleLine, pen{ink: Black, width: 1.4}, pt{d.x(i - 1), p.y(d.s.Values[i-1])}, at)
		}
		if v.Ranges > 0 && (value < v.Lower || value > v.Upper) {
			d.diamond(RoleOut, pen{ink: Black, width: 2.2}, at, 6)
			continue
		}
		d.dot(RolePoint, Black, pen{}, at, 3.6)
	}
}

func (d *individuals) drawRanges() {
	v, p := d.s.Individuals, &d.below
	p.place(label{role: RoleLabel, lines: []string{words.Say("from one reading to the next").In(d.o.Language)}, size: 13, bold: true, ink: Black, spots: []spot{{p.plot.x0, p.plot.y0 - 12, Start}}})
	if v.Ranges == 0 {
		return
	}
	p.level(RoleLimit, v.UpperRange)
	p.level(RoleTarget, v.MeanRange, 2, 5)
	d.line(RoleAxis, pen{ink: Frame, width: 1.5}, pt{p.plot.x0, p.plot.y1}, pt{p.plot.x1, p.plot.y1})
	for i := range d.s.Values {
		if !d.joined(i) {
			continue
		}
		size := math.Abs(d.s.Values[i] - d.s.Values[i-1])
		at := pt{d.x(i), p.y(size)}
		d.line(RoleBar, pen{ink: Black, width: 1.4}, pt{at.x, p.plot.y1}, at)
		if size > v.UpperRange {
			d.diamond(RoleOut, pen{ink: Black, width: 2.2}, at, 6)
			continue
		}
		d.dot(RolePoint, Black, pen{}, at, 3)
	}
}

func (d *individuals) drawTimes() {
	write := func(text string, x float64, anchor Anchor) {
		d.place(label{role: RoleAxis, lines: []string{text}, size: 13, ink: Black, spots: []spot{{x, d.h - 8, anchor}}})
	}
	write(d.o.clock(d.s.From), d.below.plot.x0, Start)
	write(d.o.clock(d.s.To), d.below.plot.x1, End)
}

func (d *individuals) story() words.Text {
	v := d.s.Individuals
	said := func(v float64) words.Number { return words.Number(short(v)) }
	if v.Ranges == 0 {
		return words.Say("%d readings about %s. No two lie near enough to say how they scatter.", v.N, said(v.Mean))
	}
	return words.Say("%d readings about %s, %d of them outside %s to %s. From one to the next they move by %s, seldom by more than %s.",
		v.N, said(v.Mean), v.Outside, said(v.Lower), said(v.Upper), said(v.MeanRange), said(v.UpperRange))
}
