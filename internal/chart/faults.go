package chart

import (
	"math"
	"strings"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// drawFaults puts each fault on the floor of the plot: expected ones a hollow
// triangle, others a filled octagon.
func (d *drawing) drawFaults() {
	for _, g := range d.faultGroups() {
		for _, f := range g.faults {
			x, y := d.faultX(f), d.plot.y1-8
			if f.Expected {
				d.area(RoleFault, Sheet, pen{ink: Black, width: 2.2}, pt{x - 8, y - 7}, pt{x, y + 7}, pt{x + 8, y - 7})
			} else {
				d.octagon(x, y, 7.5)
			}
		}
		d.taken = append(d.taken, box{g.x0 - 9, d.plot.y1 - 17, g.x1 + 9, d.plot.y1 + 1})
	}
}

func (d *drawing) octagon(x, y, r float64) {
	var pts []pt
	for i := range 8 {
		a := (float64(i) + 0.5) * math.Pi / 4
		pts = append(pts, pt{x + r*math.Cos(a), y + r*math.Sin(a)})
	}
	d.area(RoleBeyond, Bad, pen{}, pts...)
	d.cross(RoleBeyond, pen{ink: Sheet, width: 2}, pt{x, y}, 2.8)
}

func (d *drawing) faultX(f rules.FaultState) float64 {
	return math.Min(math.Max(d.x(f.Entry.ObservedAt), d.plot.x0+9), d.plot.x1-9)
}

// group is faults that lie so near that they share their words.
type group struct {
	x0, x1 float64
	faults []rules.FaultState
}

func (d *drawing) faultGroups() []group {
	var out []group
	for _, f := range d.faults {
		if !d.shows(f.Entry.ObservedAt) {
			continue
		}
		x := d.faultX(f)
		if n := len(out); n > 0 && x-out[n-1].x1 < 60 {
			out[n-1].x1 = x
			out[n-1].faults = append(out[n-1].faults, f)
			continue
		}
		out = append(out, group{x, x, []rules.FaultState{f}})
	}
	return out
}

func (d *drawing) labelFaults() {
	groups := d.faultGroups()
	for i := len(groups) - 1; i >= 0; i-- {
		g := groups[i]
		y := d.plot.y1 - 3
		l := label{role: RoleLabel, lines: []string{d.faultWords(g.faults)}, size: d.small, ink: Second, shy: true, spots: []spot{
			{g.x1 + 13, y, Start}, {g.x0 - 13, y, End}, {g.x0 - 8, y - 19, Start}, {g.x1 + 8, y - 19, End},
		}}
		if d.place(l) {
			continue
		}
		two := l // in two lines it is narrower
		first, rest, _ := strings.Cut(l.lines[0], ", ")
		two.lines = []string{first + ",", rest}
		two.spots = []spot{{g.x1 + 13, y - d.small, Start}, {g.x0 - 13, y - d.small, End}, {g.x0 - 8, y - 35, Start}}
		if l.shy = false; !d.place(two) {
			d.place(l)
		}
	}
}

func (d *drawing) faultWords(fs []rules.FaultState) string {
	open, beyond := 0, 0
	for _, f := range fs {
		if f.ClearedBy == nil {
			open++
		}
		if !f.Expected {
			beyond++
		}
	}
	name := words.Many(len(fs), "%d fault", "%d faults")
	if len(fs) == 1 {
		name = words.Say("%s fault", commissioning.FaultName(fs[0].Entry.Fault))
	}
	state, expected := words.Say("cleared"), words.Text{}
	switch {
	case open > 0 && len(fs) > 1:
		state = words.Say("%d open", open)
	case open > 0:
		state = words.Say("open")
	}
	switch {
	case beyond > 0 && beyond < len(fs):
		expected = words.Say("%d not expected", beyond)
	case beyond > 0:
		expected = words.Say("not expected")
	}
	return words.Join(", ", name, state, expected).In(d.Language)
}
