package chart

import (
	"math"
	"time"
)

// frame maps instants and values to the plot.
type frame struct {
	Options
	plot    box // points lie inside
	barTop  float64
	barEnd  float64 // bottom of the hold bar, where the axis is
	size    float64 // type size of figures
	small   float64 // type size of words
	t0, t1  time.Time
	past    time.Time // now on a page, the last thing seen on paper
	lo, hi  float64
	earlier bool // part of the run lies left of the plot
}

func newFrame(o Options, r run) frame {
	f := frame{Options: o, size: 15, small: 14}
	right := 92.0
	if o.Narrow {
		right = 62
	}
	f.spanTime(r)
	foot := 56.0
	if f.earlier {
		foot += 20
	}
	f.plot = box{4, 40, o.Width - right, o.Height - foot - 8}
	f.barTop, f.barEnd = o.Height-foot, o.Height-foot+30
	f.spanValues(r)
	return f
}

// spanTime: from the first start to now and what is still to come. A page shows
// the last part of a long run, paper shows all of it.
func (f *frame) spanTime(r run) {
	f.past = f.Now
	if f.Paper && !r.last.IsZero() || f.past.IsZero() {
		f.past = r.last
	}
	f.t0 = r.first
	if f.t0.IsZero() || f.t0.After(f.past) {
		f.t0 = f.past
	}
	f.t1 = f.past
	if live, ok := r.live(); !f.Paper && !r.passed {
		f.t1 = f.past.Add(r.required)
		if ok {
			f.t1 = latest(f.past, live.From.Add(r.required))
		}
		if most := f.past.Add(f.window() * 2 / 5); f.t1.After(most) {
			f.t1 = most
		}
	}
	if f.Paper {
		f.pad()
		return
	}
	if f.t1.Sub(f.t0) > f.window() {
		f.t0, f.earlier = f.t1.Add(-f.window()), true
	}
	f.pad()
}

func (f *frame) pad() {
	least := shortestLive
	if f.Paper {
		least = shortest
	}
	if f.t1.Sub(f.t0) < least {
		f.t1 = f.t0.Add(least)
	}
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// spanValues: -17 % to +30 % of the target, the same for every run of the
// quantity, wider where a reading or a limit lies outside.
func (f *frame) spanValues(r run) {
	f.lo, f.hi = math.Inf(1), math.Inf(-1)
	see := func(vs ...float64) {
		for _, v := range vs {
			if !math.IsNaN(v) {
				f.lo, f.hi = math.Min(f.lo, v), math.Max(f.hi, v)
			}
		}
	}
	lower, upper, target := r.limits()
	span := func(t float64) { see(t-0.17*math.Abs(t), t+0.30*math.Abs(t)) }
	span(target)
	see(lower, upper)
	for _, p := range r.readings {
		span(p.target)
		if f.shows(p.at) {
			see(p.v, p.lo, p.hi)
		}
	}
	if math.IsInf(f.lo, 0) {
		f.lo, f.hi = 0, 1
	}
	if f.hi-f.lo < 1e-9*math.Max(math.Abs(f.hi), 1e-3) {
		f.lo, f.hi = f.lo-0.5*math.Max(math.Abs(f.lo), 1), f.hi+0.5*math.Max(math.Abs(f.hi), 1)
	}
}

func (f frame) shows(at time.Time) bool { return !at.Before(f.t0) && !at.After(f.t1) }

// within moves an instant to the nearest one that is shown.
func (f frame) within(at time.Time) time.Time {
	switch {
	case at.Before(f.t0):
		return f.t0
	case at.After(f.t1):
		return f.t1
	}
	return at
}

func (f frame) x(at time.Time) float64 {
	return f.plot.x0 + (f.plot.x1-f.plot.x0)*float64(at.Sub(f.t0))/float64(f.t1.Sub(f.t0))
}

// margin keeps the marks of the outermost values inside the plot; faults have
// the floor to themselves.
const (
	marginTop   = 8
	marginFloor = 18
)

func (f frame) y(v float64) float64 {
	bottom, top := f.plot.y1-marginFloor, f.plot.y0+marginTop
	return bottom - (bottom-top)*(v-f.lo)/(f.hi-f.lo)
}

func (f frame) at(p reading) pt { return pt{f.x(p.at), f.y(p.v)} }
