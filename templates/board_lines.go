package templates

import (
	"slices"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
)

// fullWall is how many units one page of the board shows; a larger board has a
// page for each line, on which each unit keeps its place.
const fullWall = 200

// BoardLine is a line with a page of its own.
type BoardLine struct {
	Site  commissioning.SiteID
	Name  string
	Units int
}

func (l BoardLine) has(t Tile) bool { return l.Site == t.Site && l.Name == t.Line }

// ByLine divides a board that is too large for one page and opens the line of
// that name, else the first.
func (b BoardView) ByLine(site commissioning.SiteID, name string) BoardView {
	if len(b.Tiles) <= fullWall {
		return b
	}
	for _, t := range b.Tiles {
		i := slices.IndexFunc(b.Lines, func(l BoardLine) bool { return l.has(t) })
		if i < 0 {
			i = len(b.Lines)
			b.Lines = append(b.Lines, BoardLine{Site: t.Site, Name: t.Line})
		}
		b.Lines[i].Units++
	}
	b.Open = max(0, slices.IndexFunc(b.Lines, func(l BoardLine) bool { return l.Site == site && l.Name == name }))
	return b
}

// lineName is a line's own, with its site where there are several.
func (b BoardView) lineName(l BoardLine) words.Text {
	if len(b.Sites) < 2 {
		return words.Plain(l.Name)
	}
	return words.Join(", ", words.Plain(l.Name), siteName(l.Site, b.Sites))
}

// shown are the tiles of the line that is open; all of a board that has one page.
func (b BoardView) shown() []Tile {
	if len(b.Lines) == 0 {
		return b.Tiles
	}
	return slices.DeleteFunc(slices.Clone(b.Tiles), func(t Tile) bool { return !b.Lines[b.Open].has(t) })
}
