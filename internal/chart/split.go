package chart

import (
	"math"

	"settlemark/internal/words"
)

// Signed says how far the two halves of a record are.
type Signed int

// Unsigned: both halves dashed. ByEngineer: the upper half stands. ByBoth: both
// stand and fit.
const (
	Unsigned Signed = iota
	ByEngineer
	ByBoth
)

// Split draws the two halves of the stick that is split between two people. The
// line between them is drawn from the record's SHA-256, one step for each half
// byte, so that a page and a paper of the same record can be told by eye to be
// the same, and no other half fits.
func Split(l words.Language, hash []byte, width, height float64, signed Signed) Chart {
	s := sheet{w: width, h: height}
	gap := 0.0
	if signed != ByBoth {
		gap = math.Max(6, 0.16*height)
	}
	seam := seam(hash, width-4, 0.08*height)
	upperEdge, lowerEdge := notchedEdge(hash, 2, width-2)
	draw := func(edge []pt, base, dir, seamY float64, ink Ink) {
		var pts []pt
		for _, p := range edge {
			pts = append(pts, pt{p.x, base + dir*p.y*height})
		}
		for i := len(seam) - 1; i >= 0; i-- {
			pts = append(pts, pt{2 + seam[i].x, seamY + seam[i].y})
		}
		if ink == None {
			s.area(RoleHalf, Sheet, pen{ink: Pencil, width: 2, dash: []float64{5, 4}}, pts...)
			return
		}
		s.area(RoleHalf, ink, pen{}, pts...)
	}
	upper, lower := None, None
	if signed >= ByEngineer {
		upper = Black
	}
	if signed == ByBoth {
		lower = Seal
	}
	draw(upperEdge, 1, 1, height/2-gap/2, upper)
	draw(lowerEdge, height-1, -1, height/2+gap/2, lower)
	if signed == ByBoth {
		line := make([]pt, len(seam))
		for i, p := range seam {
			line[i] = pt{2 + p.x, height/2 + p.y}
		}
		s.line(RoleHalf, pen{ink: Sheet, width: 3}, line...)
	}
	return Chart{
		Width: tenth(width), Height: tenth(height), Title: words.Say("Two halves of one record").In(l), Story: splitStories[signed].In(l), Marks: s.marks,
	}
}

var splitStories = map[Signed]words.Text{
	Unsigned:   words.Say("Neither half is signed. Two people must sign before the halves fit."),
	ByEngineer: words.Say("The engineer's half is signed. The other half is open."),
	ByBoth:     words.Say("Both halves are signed. They fit each other along one line."),
}

// seam gives the split line about zero, one step for each half byte.
func seam(hash []byte, width, reach float64) []pt {
	nibbles := halfBytes(hash)
	out := make([]pt, 0, len(nibbles))
	for i, n := range nibbles {
		out = append(out, pt{width * float64(i) / float64(len(nibbles)-1), reach * (float64(n)/7.5 - 1)})
	}
	return out
}

func halfBytes(hash []byte) []byte {
	if len(hash) == 0 {
		return []byte{7, 7}
	}
	out := make([]byte, 0, 2*len(hash))
	for _, b := range hash {
		out = append(out, b>>4, b&15)
	}
	return out
}

// notchedEdge gives the outer edges with the same notches on both halves; y is a
// share of the height. Every fourth bit of the hash makes a deep notch.
func notchedEdge(hash []byte, x0, x1 float64) (upper, lower []pt) {
	const notches = 22
	step := (x1 - x0) / notches
	bits := halfBytes(hash)
	upper = append(upper, pt{x0, 0})
	for i := range notches {
		depth := 0.10
		if bits[i%len(bits)]&1 == 1 {
			depth = 0.17
		}
		mid := x0 + step*(float64(i)+0.5)
		upper = append(upper, pt{mid - 0.3*step, 0}, pt{mid, depth}, pt{mid + 0.3*step, 0})
	}
	upper = append(upper, pt{x1, 0})
	return upper, upper
}
