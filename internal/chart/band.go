package chart

import (
	"math"
)

// drawBand fills the tolerance band and draws its limits as solid lines and the
// target dotted. A band that moves follows the limits of each reading.
func (d *drawing) drawBand() {
	for _, part := range d.bandParts() {
		var upper, lower, target []pt
		for _, p := range part {
			upper = append(upper, pt{p.x, d.y(p.hi)})
			lower = append(lower, pt{p.x, d.y(p.lo)})
			if !math.IsNaN(p.target) {
				target = append(target, pt{p.x, d.y(p.target)})
			}
		}
		around := append([]pt(nil), upper...)
		for i := len(lower) - 1; i >= 0; i-- {
			around = append(around, lower[i])
		}
		d.area(RoleBand, Band, pen{}, around...)
		solid := pen{ink: Limit, width: 2}
		d.line(RoleLimit, solid, upper...)
		d.line(RoleLimit, solid, lower...)
		for i := 1; i < len(part); i++ {
			for _, at := range [][]pt{upper, lower, target} {
				if i < len(at) {
					d.faint = append(d.faint, box{at[i-1].x, min(at[i-1].y, at[i].y) - 1, at[i].x, max(at[i-1].y, at[i].y) + 1})
				}
			}
		}
		if len(target) > 1 {
			d.line(RoleTarget, pen{ink: Limit, width: 1.5, dash: []float64{2, 5}}, target...)
		}
	}
}

type bandAt struct{ x, lo, hi, target float64 }

// bandParts gives the stretches over which limits are known. Where the target
// does not move there is one, from edge to edge.
func (d *drawing) bandParts() [][]bandAt {
	lower, upper, target := d.limits()
	if math.IsNaN(lower) || math.IsNaN(upper) {
		return nil
	}
	if q := d.series.Quantity; q.Target == nil || len(q.Target.Curve) == 0 {
		return [][]bandAt{{{d.plot.x0, lower, upper, target}, {d.plot.x1, lower, upper, target}}}
	}
	var parts [][]bandAt
	var part []bandAt
	end := func() {
		if len(part) == 1 { // one reading alone: as wide as its mark
			part = append([]bandAt{part[0]}, part[0])
			part[0].x, part[1].x = math.Max(d.plot.x0, part[0].x-6), math.Min(d.plot.x1, part[1].x+6)
		}
		if len(part) > 0 {
			parts = append(parts, part)
		}
		part = nil
	}
	for _, p := range d.shown {
		if math.IsNaN(p.lo) || math.IsNaN(p.hi) {
			end()
			continue
		}
		part = append(part, bandAt{d.x(p.at), p.lo, p.hi, p.target})
	}
	end()
	if n := len(parts); n > 0 && len(d.shown) > 0 && !math.IsNaN(d.shown[len(d.shown)-1].lo) {
		tail := parts[n-1][len(parts[n-1])-1]
		tail.x = d.plot.x1
		parts[n-1] = append(parts[n-1], tail)
	}
	return parts
}

// bandAround gives the height of the band on the sheet, or of the whole plot.
func (d *drawing) bandAround() (top, bottom float64) {
	lower, upper, _ := d.limits()
	if math.IsNaN(lower) || math.IsNaN(upper) {
		return d.plot.y0, d.plot.y1
	}
	return d.y(upper), d.y(lower)
}

// labelLimits writes the figures at the right edge, moved apart where the band is thin.
func (d *drawing) labelLimits() {
	lo, hi, t := d.limits()
	lower, upper, target := d.limitWords(d.Options)
	step := d.size + 2
	if d.Narrow {
		step = 2*d.size + 3
	}
	middle := (d.y(lo) + d.y(hi)) / 2
	if !math.IsNaN(t) {
		middle = d.y(t)
		d.limitLabel(target, middle)
	} else {
		step /= 2
	}
	if !math.IsNaN(lo) && !math.IsNaN(hi) {
		d.limitLabel(upper, math.Min(d.y(hi), middle-step))
		d.limitLabel(lower, math.Max(d.y(lo), middle+step))
	}
}

func (d *drawing) limitLabel(words [2]string, y float64) {
	x := d.plot.x1 + 10
	d.place(label{role: RoleLabel, lines: words[:1], size: d.size, bold: true, ink: Black, spots: []spot{{x, y + 5, Start}}})
	beside := spot{x + textWidth(words[0]+" ", d.size, true), y + 5, Start}
	if d.Narrow {
		beside = spot{x, y + 5 + d.size, Start}
	}
	if words[1] != "" {
		d.place(label{role: RoleLabel, lines: words[1:], size: d.small, ink: Second, spots: []spot{beside}})
	}
}
