// Package chart draws a run. One geometry makes a list of marks; SVG writes the
// list for pages, and the certificate paints the same list on paper, so what a
// supervisor saw is what was printed.
//
// A mark names an ink, never a colour: pages give inks their colour by class
// (.drawn .f-bad, .drawn .l-bad), paper gives them greys. Nothing may depend on
// colour: what differs in ink differs in shape too.
//
// Coordinates are whole tenths of a unit, so that a chart can stand in a record
// that is hashed. The package knows neither HTTP nor SQL nor the clock.
package chart

import "strconv"

// Ink is what a mark is drawn with.
type Ink string

// Inks. None leaves the area or the line out.
const (
	None   Ink = ""
	Black  Ink = "ink"    // recorded
	Second Ink = "ink-2"  // second text
	Pencil Ink = "ink-3"  // not yet, or aside
	Sheet  Ink = "sheet"  // the paper's own colour
	Band   Ink = "band"   // the tolerance band
	Limit  Ink = "limit"  // its limits and target
	Bad    Ink = "bad"    // what broke a hold, a fault beyond the procedure
	Warn   Ink = "warn"   // late, over the limit
	Void   Ink = "void"   // struck notches
	Seal   Ink = "seal"   // a countersignature
	Frame  Ink = "rule-2" // edges of a meter
)

// Inks is every ink that can occur, for the style sheet and its test.
var Inks = []Ink{Black, Second, Pencil, Sheet, Band, Limit, Bad, Warn, Void, Seal, Frame}

// Role says what a mark shows.
type Role string

// Roles that somebody asks for.
const (
	RoleBand   Role = "band"
	RoleLimit  Role = "limit"
	RoleTarget Role = "target"
	RoleLine   Role = "line"
	RolePoint  Role = "point"  // in band, filled
	RoleOut    Role = "out"    // out of band, hollow diamond
	RoleBroke  Role = "broke"  // the one that broke a hold
	RoleLate   Role = "late"   // clock: typed long after
	RoleTyped  Role = "typed"  // bar below: typed where others came by logger
	RoleGap    Role = "gap"    // no check
	RoleFault  Role = "fault"  // expected
	RoleBeyond Role = "beyond" // beyond the procedure
	RoleVoid   Role = "void"   // a hold that does not count
	RoleLive   Role = "live"   // the hold that counts
	RoleRest   Role = "rest"   // still to come
	RoleBar    Role = "bar"
	RoleNow    Role = "now"
	RoleAxis   Role = "axis"
	RoleLabel  Role = "label"
	RoleEarly  Role = "earlier"
	RoleHalf   Role = "half"
	RoleMeter  Role = "meter"
	RoleValue  Role = "value"
)

// Tenth is a tenth of a drawing unit.
type Tenth int

func (t Tenth) String() string {
	return strconv.FormatFloat(float64(t)/10, 'f', -1, 64)
}

// Units gives the length in drawing units.
func (t Tenth) Units() float64 { return float64(t) / 10 }

// Anchor of a text.
type Anchor string

// Anchors.
const (
	Start  Anchor = ""
	Middle Anchor = "middle"
	End    Anchor = "end"
)

// Mark is one thing drawn: lines (x,y,x,y… each), a dot, or a text.
type Mark struct {
	Role   Role      `json:"role"`
	Lines  [][]Tenth `json:"lines,omitempty"`
	Closed bool      `json:"closed,omitempty"`
	X      Tenth     `json:"x,omitempty"`
	Y      Tenth     `json:"y,omitempty"`
	R      Tenth     `json:"r,omitempty"`
	Text   string    `json:"text,omitempty"`
	Size   Tenth     `json:"size,omitempty"`
	Bold   bool      `json:"bold,omitempty"`
	Anchor Anchor    `json:"anchor,omitempty"`
	Fill   Ink       `json:"fill,omitempty"`
	Line   Ink       `json:"line,omitempty"`
	Width  Tenth     `json:"width,omitempty"`
	Dash   []Tenth   `json:"dash,omitempty"`
}

// Chart is a list of marks on a sheet, drawn in order.
type Chart struct {
	Width  Tenth  `json:"width"`
	Height Tenth  `json:"height"`
	Title  string `json:"title"`
	Story  string `json:"story"` // two sentences for those who cannot see it
	Marks  []Mark `json:"marks"`

	class  string
	prefix string
	scale  *scale // of a page, which may add marks
}

// scale says where instants and values lie, for a page's script.
type scale struct {
	t0, t1         int64 // milliseconds since 1970
	x0, x1, y0, y1 Tenth
	v0, v1         float64
	bar            Tenth // top of the hold bar
	unit           string
}

// Named gives the drawing classes for pages and a prefix that keeps its ids
// unique on a page.
func (c Chart) Named(class, prefix string) Chart {
	c.class, c.prefix = class, prefix
	return c
}
