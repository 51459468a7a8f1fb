package chart

import (
	"math"
	"strconv"
	"strings"

	"settlemark/internal/rules"
	"settlemark/internal/words"
)

func share(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return math.Min(math.Max(v, 0), 1)
}

// Waste is an upright meter of a waste container: its level, the share that the
// next drain would add hatched, and the fill limit as a line with its figure.
func Waste(l words.Language, c rules.Container, nextML, width, height float64) Chart {
	s := sheet{w: width, h: height}
	capacity, limit, volume := number(c.CapacityML), number(c.LimitML), number(c.VolumeML)
	if math.IsNaN(volume) {
		volume = 0
	}
	body := box{2, 14, width * 0.5, height - 2}
	y := func(ml float64) float64 {
		return body.y1 - (body.y1-body.y0)*share(ml/capacity)
	}
	s.rect(RoleMeter, Sheet, pen{ink: Black, width: 2}, body)
	level := Black
	if c.Over {
		level = Bad
	}
	if volume > 0 {
		s.rect(RoleValue, level, pen{}, box{body.x0 + 1, y(volume), body.x1 - 1, body.y1 - 1})
	}
	if top, now := y(volume+nextML), y(volume); nextML > 0 && now > top {
		s.rect(RoleRest, None, pen{ink: Pencil, width: 1.6, dash: []float64{4, 3}}, box{body.x0 + 1, top, body.x1 - 1, now})
		for x := body.x0 + 4; x < body.x1-2; x += 6 {
			s.line(RoleRest, pen{ink: Pencil, width: 1.2}, pt{x, now}, pt{math.Min(x+(now-top)/2, body.x1-1), math.Max(top, now-2*(body.x1-1-x))})
		}
	}
	if !math.IsNaN(limit) && !math.IsNaN(capacity) {
		at := y(limit)
		s.line(RoleLimit, pen{ink: Warn, width: 2.5}, pt{body.x0 - 2, at}, pt{body.x1 + 6, at})
		s.place(label{role: RoleLabel, lines: []string{words.Number(c.LimitML).In(l), "mL"}, size: 14, ink: Black, spots: []spot{{body.x1 + 9, at + 5, Start}, {body.x1 + 9, at + 18, Start}}})
	}
	full := words.Say("%s mL of %s mL, %s %% full; the limit is %s mL.", words.Number(strconv.FormatFloat(volume, 'f', -1, 64)),
		words.Number(c.CapacityML), c.PercentFull, words.Number(c.LimitML))
	if c.Over {
		full = words.Sentences(full, words.Say("It is over its limit."))
	}
	return Chart{
		Width: tenth(width), Height: tenth(height), Title: words.Say("Waste container %s", c.Name).In(l), Story: full.In(l), Marks: s.marks,
	}
}

// Gauge is what a ruler shows: decimals as text, "" for what there is not.
type Gauge struct {
	Value, Last, Lower, Target, Upper string
	Beside                            func(value string) string // the same in the reader's own unit, "" for none
}

func (g Gauge) beside(value string) string {
	if g.Beside == nil {
		return ""
	}
	return g.Beside(value)
}

// Ruler shows a value that is being typed against the band and the last check.
func Ruler(l words.Language, g Gauge, width float64) Chart {
	height := 92.0
	if g.beside(g.Lower) != "" {
		height += 16
	}
	s := sheet{w: width, h: height}
	lo, hi, target := number(g.Lower), number(g.Upper), number(g.Target)
	v, last := number(g.Value), number(g.Last)
	span := hi - lo
	x := func(n float64) float64 {
		at := 20 + (width-40)*(0.22+0.56*(n-lo)/span)
		return math.Min(math.Max(at, 20), width-20)
	}
	s.line(RoleAxis, pen{ink: Black, width: 2}, pt{20, 56}, pt{width - 20, 56})
	said := words.Say("No limits are known yet.")
	if span > 0 {
		s.rulerBand(l, x, lo, hi, target, g)
		said = rulerWords(g, v, lo, hi)
	}
	if span > 0 && !math.IsNaN(last) {
		s.line(RoleValue, pen{ink: Pencil, width: 2}, pt{x(last), 22}, pt{x(last), 56})
		text := words.Say("last check %s", words.Number(g.Last)).In(l)
		half := textWidth(text, 15, false) / 2
		s.place(label{role: RoleLabel, lines: []string{text}, size: 15, ink: Second, spots: []spot{
			{x(last), 16, Middle}, {max(x(last), half+3), 16, Middle}, {min(x(last), width-half-3), 16, Middle},
		}})
	}
	if span > 0 && !math.IsNaN(v) {
		c, ink := pt{x(v), 42}, Black
		d := []pt{{c.x, c.y - 14}, {c.x + 11, c.y}, {c.x, c.y + 14}, {c.x - 11, c.y}}
		if v < lo || v > hi {
			s.area(RoleValue, Sheet, pen{ink: ink, width: 2.4}, d...)
		} else {
			s.area(RoleValue, ink, pen{}, d...)
		}
	}
	title := strings.TrimSuffix(said.In(l), ".")
	return Chart{Width: tenth(width), Height: tenth(height), Title: title, Story: title + ".", Marks: s.marks}
}

func (s *sheet) rulerBand(l words.Language, x func(float64) float64, lo, hi, target float64, g Gauge) {
	s.rect(RoleBand, Band, pen{}, box{x(lo), 26, x(hi), 56})
	for _, v := range []float64{lo, hi} {
		s.line(RoleLimit, pen{ink: Limit, width: 3}, pt{x(v), 22}, pt{x(v), 60})
	}
	if !math.IsNaN(target) {
		s.line(RoleTarget, pen{ink: Limit, width: 2, dash: []float64{2, 4}}, pt{x(target), 30}, pt{x(target), 60})
	}
	for _, at := range []struct {
		value string
		x     float64
	}{{g.Target, target}, {g.Lower, lo}, {g.Upper, hi}} {
		if math.IsNaN(at.x) {
			continue
		}
		s.place(label{role: RoleLabel, lines: []string{words.Number(at.value).In(l)}, size: 16, bold: true, ink: Black, spots: []spot{{x(at.x), 80, Middle}}})
		if own := g.beside(at.value); own != "" {
			s.place(label{role: RoleLabel, lines: []string{own}, size: 13, ink: Second, spots: []spot{{x(at.x), 98, Middle}}})
		}
	}
}

func rulerWords(g Gauge, v, lo, hi float64) words.Text {
	value, lower, upper := words.Number(g.Value), words.Number(g.Lower), words.Number(g.Upper)
	switch {
	case math.IsNaN(v):
		return words.Say("The band goes from %s to %s.", lower, upper)
	case v < lo:
		return words.Say("%s lies below the band %s to %s.", value, lower, upper)
	case v > hi:
		return words.Say("%s lies above the band %s to %s.", value, lower, upper)
	}
	return words.Say("%s lies inside the band %s to %s.", value, lower, upper)
}
