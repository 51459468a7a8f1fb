package commissioning

import "settlemark/internal/words"

// Site is a plant with its own time zone.
type Site struct {
	ID       SiteID
	Name     string
	Address  string
	TimeZone string // IANA name
	Paper    string // "A4" or "Letter"
	Language string // code, of its certificates and of whoever chose none; "" is English
	Units    string // set of local units on pages, for whoever chose none; "" is none
	Demo     bool   // demo data: pages and certificates say so
}

// Line is a production line of a site.
type Line struct {
	ID   int64
	Site SiteID
	Name string
}

// Bench is a place where units are commissioned.
type Bench struct {
	ID   int64
	Site SiteID
	Name string
}

// Position is where a fluid goes: ink or make-up.
type Position string

const (
	Ink    Position = "ink"
	MakeUp Position = "makeup"
)

// Name is how a sentence calls it.
func (p Position) Name() words.Text {
	if p == MakeUp {
		return words.Say("make-up")
	}
	return words.Say("ink")
}

// Word is its name as records write it.
func (p Position) Word() string { return p.Name().String() }

// Fluid is an ink or a make-up, known by its code.
type Fluid struct {
	Code     string
	Name     string
	Position Position
	Base     string // "ketone", "ethanol", …: words for the caution
	Figures  Figures
}

// Unit is one marking unit. Ink and Makeup are the codes it is built for.
type Unit struct {
	Tag    string // unique over all sites
	Site   SiteID
	LineID int64
	Line   string // name, filled by reads
	Serial string
	Ink    string
	Makeup string
	Place  int // its place on the board, for ever
}
