package chart

import (
	"math"
	"slices"
	"time"
)

// drawBar draws the hold bar, which is the time axis too: a notch for each check
// that counts, refilled and struck where the hold is void, dashed where it is
// still to come.
func (d *drawing) drawBar() {
	x1 := d.x(d.within(d.past))
	live, running := d.live()
	notches := d.notches(live, running)
	w := notchWidth(notches, d.series.Quantity.Cadence.D, d)
	top := []pt{{d.plot.x0, d.barTop}}
	for _, x := range notches {
		top = append(top, pt{math.Max(x-w/2, d.plot.x0), d.barTop}, pt{x, d.barTop + 18}, pt{math.Min(x+w/2, math.Max(x, x1)), d.barTop})
	}
	top = append(top, pt{x1, d.barTop}, pt{x1, d.barEnd}, pt{d.plot.x0, d.barEnd})
	d.area(RoleBar, Black, pen{}, top...)
	for _, h := range d.holds {
		if !h.live && d.visible(h) {
			d.strike(h, w)
		}
	}
	if !d.Paper {
		d.drawRest(x1, w, live, running)
	}
}

// notches gives the places of the counted checks of the hold that counts, apart
// enough to be told apart.
func (d *drawing) notches(h hold, ok bool) []float64 {
	if !ok {
		return nil
	}
	return d.checks(h)
}

func (d *drawing) checks(h hold) []float64 {
	var out []float64
	for _, p := range d.shown {
		x := d.x(p.at)
		if p.counts() && h.covers(p.at) && (len(out) == 0 || x-out[len(out)-1] >= 3.5) {
			out = append(out, x)
		}
	}
	return out
}

func notchWidth(xs []float64, cadence time.Duration, d *drawing) float64 {
	spacing := 10.0
	if cadence > 0 {
		spacing = d.x(d.t0.Add(cadence)) - d.plot.x0
	}
	for i := 1; i < len(xs); i++ {
		spacing = math.Min(spacing, xs[i]-xs[i-1])
	}
	return math.Max(2, math.Min(7, 0.72*spacing))
}

func (d *drawing) strike(h hold, w float64) {
	x0, x1 := d.x(d.within(h.From)), d.x(d.within(h.ended))
	for _, x := range d.checks(h) {
		d.line(RoleVoid, pen{ink: Void, width: 1.3}, pt{x - w/2, d.barTop + 1}, pt{x, d.barTop + 16}, pt{x + w/2, d.barTop + 1})
	}
	d.line(RoleVoid, pen{ink: Sheet, width: 2}, pt{math.Max(x0-5, d.plot.x0), d.barTop + 8.5}, pt{x1 - 5, d.barTop + 8.5})
	d.cross(RoleVoid, pen{ink: Sheet, width: 2.8}, pt{x1, d.barTop + 9}, 5)
}

// drawRest draws what is still to come: a dashed frame, and dashed notches once
// a hold runs.
func (d *drawing) drawRest(x1, w float64, live hold, running bool) {
	if d.passed || !d.t1.After(d.past) {
		return
	}
	end := d.t1
	if running {
		end = d.within(live.From.Add(d.required))
	}
	x2 := d.x(end)
	if x2-x1 < 2 {
		return
	}
	d.line(RoleRest, pen{ink: Pencil, width: 2, dash: []float64{4, 4}},
		pt{x1, d.barTop + 1}, pt{x2, d.barTop + 1}, pt{x2, d.barEnd - 1}, pt{x1, d.barEnd - 1})
	c := d.series.Quantity.Cadence.D
	if !running || c <= 0 || len(d.shown) == 0 || d.x(d.t0.Add(c))-d.plot.x0 < 3.5 {
		return
	}
	last := slices.MaxFunc(d.shown, func(a, b reading) int { return a.at.Compare(b.at) })
	for at := last.at.Add(c); !at.After(end); at = at.Add(c) {
		if x := d.x(at); x-w/2 > x1 && x+w/2 <= d.plot.x1+1 {
			d.line(RoleRest, pen{ink: Pencil, width: 1.6, dash: []float64{4, 2.5}}, pt{x - w/2, d.barTop + 2}, pt{x, d.barTop + 18}, pt{x + w/2, d.barTop + 2})
		}
	}
}

// drawNow draws where the page stands.
func (d *drawing) drawNow() {
	if d.Paper || !d.shows(d.past) {
		return
	}
	x := d.x(d.past)
	d.post(RoleNow, pen{ink: Black, width: 2.4}, x, d.plot.y0-2, d.barEnd)
}
