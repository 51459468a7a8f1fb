package chart

import (
	"slices"

	"settlemark/internal/rules"
)

// Settling draws how a quantity settled and how the hold went.
func Settling(ex rules.Examination, o Options) Chart {
	o = o.filled()
	r := newRun(ex, o.Quantity)
	d := drawing{sheet: sheet{w: o.Width, h: o.Height}, frame: newFrame(o, r), run: r}
	d.shown = thin(slices.DeleteFunc(slices.Clone(r.readings), func(p reading) bool { return !d.shows(p.at) }), d.frame)

	d.drawBand()
	d.drawAxis()
	d.drawHolds()
	d.drawGaps()
	d.drawLine()
	d.drawPoints()
	d.drawFaults()
	d.drawBar()
	d.drawNow()
	d.labelLimits()
	d.labelHolds()
	d.labelBreaks()
	d.labelFaults()
	d.labelAxis()
	d.labelGaps()
	d.labelLucky()
	d.labelLate()
	d.drawEarlier()
	d.labelEmpty()
	c := Chart{
		Width: tenth(o.Width), Height: tenth(o.Height),
		Title: r.title().In(o.Language), Story: r.story(o), Marks: d.marks,
		class: o.Class, prefix: o.Prefix,
	}
	if !o.Paper {
		c.scale = d.scale()
	}
	return c
}

func (d *drawing) scale() *scale {
	return &scale{
		t0: d.t0.UnixMilli(), t1: d.t1.UnixMilli(), x0: tenth(d.plot.x0), x1: tenth(d.plot.x1),
		v0: d.lo, v1: d.hi, y0: tenth(d.y(d.lo)), y1: tenth(d.y(d.hi)), bar: tenth(d.barTop), unit: d.series.Quantity.Unit,
	}
}

// drawing is one chart in the making.
type drawing struct {
	sheet
	frame
	run
	shown []reading
}

// thin keeps few enough points to draw: of each pixel column the lowest and the
// highest, and every one that is out of band, late or ended a hold.
func thin(all []reading, f frame) []reading {
	if len(all) <= mostPoints {
		return all
	}
	var out []reading
	for i := 0; i < len(all); {
		j, low, high := i, i, i
		column := int(f.x(all[i].at))
		for ; j < len(all) && int(f.x(all[j].at)) == column; j++ {
			if all[j].v < all[low].v {
				low = j
			}
			if all[j].v > all[high].v {
				high = j
			}
		}
		for k := i; k < j; k++ {
			if k == low || k == high || !all[k].Good || all[k].Late || all[k].broke {
				out = append(out, all[k])
			}
		}
		i = j
	}
	return out
}
