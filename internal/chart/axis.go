package chart

import (
	"time"

	"settlemark/internal/words"
)

// steps between ticks, from near to far.
var steps = []time.Duration{
	time.Minute, 2 * time.Minute, 5 * time.Minute, 10 * time.Minute, 15 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour,
	3 * time.Hour, 6 * time.Hour, 12 * time.Hour, 24 * time.Hour, 48 * time.Hour, 168 * time.Hour,
}

// ticks are round times of the site's clock, far enough apart to be read.
func (d *drawing) ticks() []time.Time {
	step := steps[len(steps)-1]
	for _, s := range steps {
		if d.x(d.t0.Add(s))-d.plot.x0 >= 62 {
			step = s
			break
		}
	}
	local := d.t0.In(d.Zone)
	at := time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, d.Zone)
	if behind := d.t0.Sub(at); behind > 0 {
		at = at.Add(behind.Truncate(step))
	}
	var out []time.Time
	for ; !at.After(d.t1) && len(out) < 60; at = at.Add(step) {
		if !at.Before(d.t0) {
			out = append(out, at)
		}
	}
	return out
}

func (d *drawing) drawAxis() {
	for _, at := range d.ticks() {
		x := d.x(at)
		d.line(RoleAxis, pen{ink: Black, width: 1.6}, pt{x, d.barEnd}, pt{x, d.barEnd + 6})
	}
}

// labelAxis writes now, or on paper the end of the hold, before the round times.
func (d *drawing) labelAxis() {
	y := d.barEnd + 21
	if live, ok := d.live(); d.Paper && ok {
		d.timeLabel(live.To, d.clock(live.To), y, true)
	} else if !d.Paper && d.shows(d.past) {
		d.timeLabel(d.past, words.Say("now %s", d.clock(d.past)).In(d.Language), y, true)
	}
	day := ""
	for _, at := range d.ticks() {
		text := d.clock(at)
		if today := at.In(d.Zone).Format("01-02"); today != day {
			if day != "" || d.t1.Sub(d.t0) > 20*time.Hour {
				text = today + " " + text
			}
			day = today
		}
		d.timeLabel(at, text, y, false)
	}
}

func (d *drawing) timeLabel(at time.Time, text string, y float64, bold bool) {
	x := d.x(at)
	half := textWidth(text, d.size, bold)/2 + 3
	d.place(label{role: RoleAxis, lines: []string{text}, size: d.size, bold: bold, ink: Black, spots: []spot{
		{x, y, Middle}, {max(x, half), y, Middle}, {min(x, d.w-half), y, Middle},
	}})
}

// drawEarlier shows, under the axis of a long run, the whole run as a thin strip
// with the part above framed.
func (d *drawing) drawEarlier() {
	if !d.earlier {
		return
	}
	y0, y1 := d.h-17, d.h-7
	whole := float64(d.t1.Sub(d.first))
	x := func(at time.Time) float64 {
		if at.After(d.t1) { // the clock of a logger may be a little ahead
			at = d.t1
		}
		return d.plot.x0 + (d.plot.x1-d.plot.x0)*float64(at.Sub(d.first))/whole
	}
	d.line(RoleEarly, pen{ink: Pencil, width: 1.2}, pt{d.plot.x0, (y0 + y1) / 2}, pt{d.plot.x1, (y0 + y1) / 2})
	for _, h := range d.holds {
		ink := Pencil
		if h.live {
			ink = Black
		}
		d.rect(RoleEarly, ink, pen{}, box{x(h.From), y0 + 3, max(x(h.To), x(h.From)+1), y1 - 3})
	}
	d.rect(RoleEarly, None, pen{ink: Black, width: 1.6}, box{x(d.t0), y0, d.plot.x1, y1})
	for _, text := range []string{words.Say("from %s", d.clock(d.first)).In(d.Language), d.clock(d.first)} {
		if d.place(label{role: RoleEarly, lines: []string{text}, size: d.small, ink: Second, spots: []spot{{d.plot.x1 + 8, y1, Start}}}) {
			return
		}
	}
}

// labelEmpty says so where there is nothing to draw.
func (d *drawing) labelEmpty() {
	text := words.Say("No reading yet")
	if len(d.shown) > 0 {
		return
	}
	if len(d.readings) > 0 {
		text = words.Say("No reading in this time")
	}
	d.place(label{role: RoleLabel, lines: []string{text.In(d.Language)}, size: d.size, ink: Second, spots: []spot{
		{(d.plot.x0 + d.plot.x1) / 2, (d.plot.y0 + d.plot.y1) / 2, Middle},
		{(d.plot.x0 + d.plot.x1) / 2, d.plot.y0 + 30, Middle},
	}})
}
