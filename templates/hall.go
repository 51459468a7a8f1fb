package templates

import (
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// HallScreensView is the screens in the halls, and the form that makes one.
type HallScreensView struct {
	Rows    []HallScreenRow
	Sites   []parts.Option
	Form    parts.Form
	Proving parts.Proving
	Now     time.Time
}

// HallScreenRow is one screen.
type HallScreenRow struct {
	commissioning.HallScreen
	SiteName string
}

// ForHall is the board for whoever walks past: without names of people, and
// without links.
func (b BoardView) ForHall() BoardView {
	hall := BoardView{Tiles: b.Tiles, Trouble: b.Trouble, Waiting: b.Waiting}
	for i := range hall.Tiles {
		hall.Tiles[i].URL = ""
		if hall.Tiles[i].Look == LookSign { // says whose run it is, and what was written
			hall.Tiles[i].Spoken = words.Say("waits for a person")
		}
	}
	for i := range hall.Waiting {
		hall.Waiting[i].URL, hall.Waiting[i].Cause = "", words.Say("waits for a person")
	}
	for i := range hall.Trouble {
		hall.Trouble[i].URL = ""
	}
	return hall
}

// HallPieces are the parts of a hall's board that change.
func HallPieces(b BoardView) []Piece {
	return append([]Piece{
		{"waiting", HallWaiting(b)},
		{"trouble", BoardTrouble(b)},
		{"legend", BoardLegend(b)},
	}, tilePieces(b)...)
}
