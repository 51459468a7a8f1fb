package chart

import (
	"slices"

	"settlemark/internal/words"
)

// The bracket of a hold lies above the plot.
const (
	bracketY = 22.0
	serif    = 9.0
)

// endings are the words for why a hold does not count.
var endings = map[string]words.Text{
	"out_of_tolerance": words.Say("then out"),
	"not_ready":        words.Say("then not ready"),
	"gap":              words.Say("then no check"),
	"fault":            words.Say("then a fault"),
	"stopped":          words.Say("then stopped"),
	"started":          words.Say("then restarted"),
}

// drawHolds draws brackets: void thin with a cross at its end, the one that
// counts thick, what is still to come dashed.
func (d *drawing) drawHolds() {
	for _, h := range d.holds {
		if !d.visible(h) {
			continue
		}
		if h.live {
			d.drawLive(h)
		} else {
			d.drawVoid(h)
		}
	}
}

func (d *drawing) visible(h hold) bool { return h.ended.After(d.t0) && h.From.Before(d.t1) }

func (d *drawing) drawVoid(h hold) {
	x0, x1 := d.x(d.within(h.From)), d.x(d.within(h.ended))
	thinPen := pen{ink: Pencil, width: 2}
	pts := []pt{{x0, bracketY + serif}, {x0, bracketY}, {x1, bracketY}, {x1, bracketY + serif}}
	if h.From.Before(d.t0) {
		pts = pts[1:]
	} else {
		top, bottom := d.bandAround()
		d.post(RoleVoid, pen{ink: Pencil, width: 1.2, dash: []float64{3, 4}}, x0, top, bottom)
	}
	d.line(RoleVoid, thinPen, pts...)
	d.cross(RoleVoid, pen{ink: Bad, width: 2.8}, pt{x1, bracketY}, 5)
	d.taken = append(d.taken, box{x1 - 6, bracketY - 5.5, x1 + 6, bracketY + 6})
}

func (d *drawing) drawLive(h hold) {
	x0, x1 := d.x(d.within(h.From)), d.x(d.within(h.To))
	thick := pen{ink: Black, width: 5}
	pts := []pt{{x0, bracketY + 12}, {x0, bracketY}, {x1, bracketY}}
	if h.From.Before(d.t0) {
		pts = pts[1:]
	} else {
		d.post(RoleLive, pen{ink: Black, width: 1.2}, x0, bracketY+16, d.plot.y1)
	}
	d.line(RoleLive, thick, pts...)
	if rest := h.From.Add(d.required); !h.Enough && rest.After(h.To) && !d.Paper {
		x2 := d.x(d.within(rest))
		far := []pt{{x1, bracketY}, {x2, bracketY}}
		if !rest.After(d.t1) {
			far = append(far, pt{x2, bracketY + 12})
		}
		d.line(RoleRest, pen{ink: Pencil, width: 2.5, dash: []float64{5, 5}}, far...)
		return
	}
	d.post(RoleLive, pen{ink: Black, width: 2.4}, x1, bracketY, d.barEnd)
}

// labelHolds writes how long each was held; the one that counts first, then the
// newest. What has no room stays without words.
func (d *drawing) labelHolds() {
	byWorth := slices.Clone(d.holds)
	slices.Reverse(byWorth)
	slices.SortStableFunc(byWorth, func(a, b hold) int {
		switch {
		case a.live && !b.live:
			return -1
		case b.live && !a.live:
			return 1
		}
		return 0
	})
	for _, h := range byWorth {
		if !d.visible(h) {
			continue
		}
		x0, x1 := d.x(d.within(h.From)), d.x(d.within(h.ended))
		middle, y := (x0+x1)/2, bracketY-7
		l := label{role: RoleVoid, size: d.size, ink: Second, lines: []string{words.Join(", ", h.lasted(), ending(h.cause)).In(d.Language)}}
		if h.live {
			l = label{role: RoleLive, size: d.size, bold: true, ink: Black, lines: []string{d.liveWords(h).In(d.Language)}}
		}
		half := textWidth(l.lines[0], l.size, l.bold) / 2
		l.spots = []spot{{middle, y, Middle}, {max(middle, half+3), y, Middle}, {min(middle, d.w-half-3), y, Middle}}
		if h.live {
			l.spots = append(l.spots, spot{x0 + 8, y, Start}, spot{x0 - 4, y, Start}, spot{x1 + 4, y, End})
		} else {
			l.spots = append(l.spots, spot{x1 - 8, y, End})
		}
		d.place(l)
	}
}

func (d *drawing) liveWords(h hold) words.Text {
	if d.passed && d.Paper {
		return words.Say("%s, every check in band", h.lasted())
	}
	return words.Say("%s proven", h.lasted())
}

func ending(cause string) words.Text {
	if said, ok := endings[cause]; ok {
		return said
	}
	return words.Say("does not count")
}

// lasted rounds down: what is not proven is not said.
func (h hold) lasted() words.Text { return words.Lasting(words.DownToMinute(h.To.Sub(h.From))) }
