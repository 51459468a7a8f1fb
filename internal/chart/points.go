package chart

import (
	"math"
	"strings"
	"time"

	"settlemark/internal/words"
)

const (
	dotRadius     = 4.4
	diamondRadius = 6.5
)

// drawLine joins readings, never across a gap.
func (d *drawing) drawLine() {
	var part []pt
	end := func() {
		if len(part) > 1 {
			d.line(RoleLine, pen{ink: Black, width: 1.6}, part...)
		}
		part = nil
	}
	for i, p := range d.shown {
		if i > 0 && d.gap(d.shown[i-1], p) {
			end()
		}
		part = append(part, d.at(p))
	}
	end()
}

// drawPoints: in band a filled dot, out of band a hollow diamond, late and not
// accepted a hollow dot. Only what ended a hold is drawn in the bad ink.
func (d *drawing) drawPoints() {
	dense := len(d.shown) > 180
	typed := d.mixed()
	for _, p := range d.shown {
		at := d.at(p)
		switch {
		case p.broke:
			d.diamond(RoleBroke, pen{ink: Bad, width: 2.2}, at, diamondRadius)
		case !p.in():
			d.diamond(RoleOut, pen{ink: Black, width: 2.2}, at, diamondRadius)
		case p.Late:
			d.dot(RolePoint, Sheet, pen{ink: Pencil, width: 2}, at, dotRadius)
		case dense:
			d.dot(RolePoint, Black, pen{}, at, 2.4)
		default:
			d.dot(RolePoint, Black, pen{}, at, dotRadius)
		}
		d.soft = append(d.soft, box{at.x - 7, at.y - 7, at.x + 7, at.y + 7})
		if typed && p.Entry.Via == "typed" {
			d.line(RoleTyped, pen{ink: Black, width: 2}, pt{at.x - 5, at.y + 10}, pt{at.x + 5, at.y + 10})
		}
		if p.tardy {
			d.clockAt(pt{at.x, at.y - 15})
		}
	}
}

// mixed says whether some readings were typed and others not: only then does a
// mark on the typed ones say anything.
func (r run) mixed() bool {
	typed := 0
	for _, p := range r.readings {
		if p.Entry.Via == "typed" {
			typed++
		}
	}
	return typed > 0 && typed < len(r.readings)
}

func (r reading) lateBy() time.Duration {
	if r.Entry.CapturedAt == nil {
		return 0
	}
	return r.Entry.CapturedAt.Sub(r.at)
}

// clockAt draws a small clock with its second hand back.
func (d *drawing) clockAt(at pt) {
	d.dot(RoleLate, Sheet, pen{ink: Black, width: 1.4}, at, 5.5)
	d.line(RoleLate, pen{ink: Black, width: 1.4}, pt{at.x, at.y - 3.6}, at, pt{at.x - 3, at.y + 1.8})
	d.soft = append(d.soft, box{at.x - 7, at.y - 7, at.x + 7, at.y + 7})
}

func (d *drawing) labelLate() {
	for _, p := range d.shown {
		if !p.tardy {
			continue
		}
		at := d.at(p)
		text := words.Say("late")
		if by := p.lateBy(); by > 0 {
			text = words.Say("%s later", words.Lasting(words.DownToMinute(by)))
		}
		d.place(label{role: RoleLabel, lines: []string{text.In(d.Language)}, size: d.small, ink: Second, shy: true, spots: []spot{
			{at.x + 9, at.y - 13, Start}, {at.x - 9, at.y - 13, End}, {at.x, at.y - 26, Middle},
		}})
	}
}

// labelBreaks names the reading that ended a hold, the newest first.
func (d *drawing) labelBreaks() {
	named := 0
	for i := len(d.shown) - 1; i >= 0; i-- {
		p := d.shown[i]
		if !p.broke {
			continue
		}
		named++
		at := d.at(p)
		text := words.Say("%s, %s", words.Number(p.Value), p.side())
		if d.Narrow {
			text = words.Say("%s out", words.Number(p.Value))
		}
		d.place(label{role: RoleBroke, lines: []string{text.In(d.Language)}, size: d.size, bold: true, ink: Bad, shy: named > 1, spots: []spot{
			{at.x - 12, at.y + 5, End},
			{at.x + 12, at.y + 5, Start},
			{at.x - 12, at.y + 16, End},
			{at.x + 12, at.y + 16, Start},
			{at.x, at.y + 22, Middle},
			{at.x, at.y - 14, Middle},
		}})
	}
}

// side says in words where a reading lies that is not good.
func (r reading) side() words.Text {
	switch {
	case math.IsNaN(r.lo) || math.IsNaN(r.hi):
		return words.Say("no target")
	case r.v < r.lo:
		return words.Say("out low")
	case r.v > r.hi:
		return words.Say("out high")
	}
	return words.Say("too near the limit")
}

// labelLucky says of one good reading among bad ones why it is no hold.
func (d *drawing) labelLucky() {
	for i, p := range d.shown {
		if i+1 >= len(d.shown) || p.held || !p.counts() || d.shown[i+1].counts() || i > 0 && d.shown[i-1].counts() {
			continue
		}
		at := d.at(p)
		lines := []string{words.Say("in once,").In(d.Language), words.Say("did not count").In(d.Language)}
		for _, dir := range []float64{1, -1} {
			first := at.y + 42
			if dir < 0 {
				first = at.y - 44
			}
			if d.place(label{role: RoleLabel, lines: lines, size: d.small, ink: Second, shy: true, spots: []spot{
				{at.x + 8, first, End}, {at.x - 8, first, Start}, {at.x + 8, first - 8*dir, End}, {at.x - 8, first - 8*dir, Start},
			}}) {
				d.line(RoleLabel, pen{ink: Pencil, width: 1.4}, pt{at.x, at.y + 8*dir}, pt{at.x, at.y + 28*dir})
				return
			}
		}
	}
}

// drawGaps puts a dotted post where a check is missing.
func (d *drawing) drawGaps() {
	for _, g := range d.gaps() {
		d.post(RoleGap, pen{ink: Pencil, width: 2, dash: []float64{2, 4}}, g.x, g.top, g.bottom)
	}
}

func (d *drawing) labelGaps() {
	for _, g := range d.gaps() {
		d.place(label{role: RoleLabel, lines: []string{words.Say("no check").In(d.Language), g.when}, size: d.small, ink: Second, shy: true, spots: []spot{
			{g.x + 6, g.top + 6, Start},
			{g.x - 6, g.top + 6, End},
			{g.x + 6, g.bottom - 20, Start},
			{g.x - 6, g.bottom - 20, End},
			{g.x, g.top - 24, Middle},
		}})
	}
}

type post struct {
	x, top, bottom float64
	when           string
}

// gaps finds where the line breaks, and on a page the silence before now.
func (d *drawing) gaps() []post {
	var out []post
	for i := 1; i < len(d.shown); i++ {
		a, b := d.shown[i-1], d.shown[i]
		if d.gap(a, b) {
			first, last := d.missed(a, b)
			out = append(out, d.postAt(first, d.when(first, last), a.v, b.v))
		}
	}
	if n := len(d.shown); n > 0 && !d.Paper {
		last := d.shown[n-1]
		if longest := d.series.Quantity.MaxGap.D; longest > 0 && d.past.Sub(last.at) > longest {
			first, _ := d.missed(last, last)
			out = append(out, d.postAt(first, words.Say("since %s", d.clock(last.at)).In(d.Language), last.v, last.v))
		}
	}
	return out
}

// missed is when the first and the last check between two readings were due.
func (d *drawing) missed(a, b reading) (first, last time.Time) {
	c := d.series.Quantity.Cadence.D
	if c <= 0 {
		first = a.at.Add(d.series.Quantity.MaxGap.D)
		return first, b.at
	}
	n := max(1, (b.at.Sub(a.at)-1)/c)
	return a.at.Add(c), a.at.Add(n * c)
}

func (d *drawing) when(from, to time.Time) string {
	a, b := d.clock(from), d.clock(to)
	if a == b || !to.After(from) {
		return a
	}
	return words.Say("%s to %s", a, b).In(d.Language)
}

func (d *drawing) postAt(at time.Time, when string, a, b float64) post {
	top, bottom := d.y(math.Max(a, b)), d.y(math.Min(a, b))
	middle := (top + bottom) / 2
	top, bottom = math.Min(top, middle-40), math.Max(bottom, middle+40)
	return post{x: d.x(d.within(at)), top: math.Max(top, d.plot.y0), bottom: math.Min(bottom, d.plot.y1), when: strings.TrimSpace(when)}
}
