package chart

import (
	"math"
	"slices"
	"unicode/utf8"
)

// sheet collects marks and remembers where labels lie.
type sheet struct {
	w, h  float64
	marks []Mark
	taken []box // labels: nothing may cover them
	soft  []box // points and posts: labels keep off them while there is room
	faint []box // lines that a label may cross before it is left out
}

type box struct{ x0, y0, x1, y1 float64 }

func (b box) meets(o box) bool {
	return b.x0 < o.x1 && o.x0 < b.x1 && b.y0 < o.y1 && o.y0 < b.y1
}

type pt struct{ x, y float64 }

func tenth(v float64) Tenth { return Tenth(math.Round(v * 10)) }

func flat(pts []pt) []Tenth {
	out := make([]Tenth, 0, 2*len(pts))
	for _, p := range pts {
		out = append(out, tenth(p.x), tenth(p.y))
	}
	return out
}

// pen is how a line is drawn.
type pen struct {
	ink   Ink
	width float64
	dash  []float64
}

func (p pen) on(m Mark) Mark {
	m.Line, m.Width = p.ink, tenth(p.width)
	for _, d := range p.dash {
		m.Dash = append(m.Dash, tenth(d))
	}
	return m
}

func (s *sheet) line(role Role, p pen, pts ...pt) {
	s.marks = append(s.marks, p.on(Mark{Role: role, Lines: [][]Tenth{flat(pts)}}))
}

// post is an upright line that labels keep off.
func (s *sheet) post(role Role, p pen, x, y0, y1 float64) {
	s.line(role, p, pt{x, y0}, pt{x, y1})
	s.soft = append(s.soft, box{x - 1, y0, x + 1, y1})
}

func (s *sheet) cross(role Role, p pen, at pt, r float64) {
	s.marks = append(s.marks, p.on(Mark{Role: role, Lines: [][]Tenth{
		flat([]pt{{at.x - r, at.y - r}, {at.x + r, at.y + r}}),
		flat([]pt{{at.x - r, at.y + r}, {at.x + r, at.y - r}}),
	}}))
}

func (s *sheet) area(role Role, fill Ink, p pen, pts ...pt) {
	s.marks = append(s.marks, p.on(Mark{Role: role, Lines: [][]Tenth{flat(pts)}, Closed: true, Fill: fill}))
}

func (s *sheet) rect(role Role, fill Ink, p pen, b box) {
	s.area(role, fill, p, pt{b.x0, b.y0}, pt{b.x1, b.y0}, pt{b.x1, b.y1}, pt{b.x0, b.y1})
}

func (s *sheet) dot(role Role, fill Ink, p pen, at pt, r float64) {
	s.marks = append(s.marks, p.on(Mark{Role: role, X: tenth(at.x), Y: tenth(at.y), R: tenth(r), Fill: fill}))
}

func (s *sheet) diamond(role Role, p pen, at pt, r float64) {
	s.area(role, Sheet, p, pt{at.x, at.y - r}, pt{at.x + r, at.y}, pt{at.x, at.y + r}, pt{at.x - r, at.y})
}

// label is a text of one or more lines that may stand at any of its spots.
type label struct {
	role  Role
	lines []string
	size  float64
	bold  bool
	ink   Ink
	shy   bool // left out rather than put over a point or a post
	spots []spot
}

// spot is the base line of a label's first line.
type spot struct {
	x, y   float64
	anchor Anchor
}

func (l label) boxAt(at spot) box {
	w := 0.0
	for _, t := range l.lines {
		w = math.Max(w, textWidth(t, l.size, l.bold))
	}
	x := at.x
	switch at.anchor {
	case Middle:
		x -= w / 2
	case End:
		x -= w
	}
	return box{x - 2, at.y - 0.8*l.size, x + w + 2, at.y + 0.22*l.size + float64(len(l.lines)-1)*l.lead()}
}

func (l label) lead() float64 { return 1.15 * l.size }

// place puts the label on the first spot that is free: of everything, or else
// of labels and points, or else of labels only. Without room it is left out; the
// table has it.
func (s *sheet) place(l label) bool {
	tries := [][][]box{{s.taken, s.soft, s.faint}, {s.taken, s.soft}, {s.taken}}
	if l.shy {
		tries = tries[:2]
	}
	for _, obstacles := range tries {
		for _, at := range l.spots {
			if s.free(l.boxAt(at), obstacles) {
				s.put(l, at)
				return true
			}
		}
	}
	return false
}

func (s *sheet) free(b box, obstacles [][]box) bool {
	if b.x0 < 0 || b.y0 < 0 || b.x1 > s.w || b.y1 > s.h {
		return false
	}
	for _, some := range obstacles {
		if slices.ContainsFunc(some, b.meets) {
			return false
		}
	}
	return true
}

func (s *sheet) put(l label, at spot) {
	s.taken = append(s.taken, l.boxAt(at))
	for i, t := range l.lines {
		s.marks = append(s.marks, Mark{
			Role: l.role, X: tenth(at.x), Y: tenth(at.y + float64(i)*l.lead()), Text: t,
			Size: tenth(l.size), Bold: l.bold, Anchor: at.anchor, Fill: l.ink,
		})
	}
}

// textWidth measures a text; what is not ASCII counts as a wide letter.
func textWidth(t string, size float64, bold bool) float64 {
	face := &advance[0]
	if bold {
		face = &advance[1]
	}
	sum := 0
	for _, r := range t {
		if r >= ' ' && r < utf8.RuneSelf-1 {
			sum += int(face[r-' '])
		} else {
			sum += 620
		}
	}
	return float64(sum) * size / 1000
}
