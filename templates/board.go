package templates

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// BoardView is every unit of the reader's sites at one instant.
type BoardView struct {
	Told    []commissioning.Notice // the newest
	Tiles   []Tile
	Waiting []QueueRow // oldest first
	Trouble []QueueRow // oldest first
	Tried   []QueueRow // persons as whom somebody failed to prove their identity, the newest first
	Ending  []QueueRow // releases that end soon and are not being renewed, the nearest end first

	Sites []commissioning.Site // of the units, for the names of lines
	Lines []BoardLine          // each with a page of its own, none where one page shows all
	Open  int                  // which of them is shown
}

// Tile is one unit; it keeps its place for ever.
type Tile struct {
	Name   string // of the live fragment
	Site   commissioning.SiteID
	Line   string
	Tag    string
	URL    string // "" for a tile that leads nowhere
	Look   Look
	Word   words.Text // beside the shape, empty for a quiet tile
	Number string     // minutes left in the hold
	Part   int        // percent of the bar, -1 without a bar
	Spoken words.Text // for a screen reader
}

// QueueRow is one thing that waits for a person.
type QueueRow struct {
	Icon, Tag, URL string
	Cause          words.Text
	Since          time.Time
	Age            words.Text
}

// Look is one of the few ways in which a tile stands out.
type Look string

const (
	LookIdle  Look = "idle"
	LookWork  Look = "work"
	LookHold  Look = "hold"
	LookSign  Look = "sign"
	LookStop  Look = "stop"
	LookLate  Look = "late"
	LookQuiet Look = "quiet"
	LookDone  Look = "done"
)

// looks in the order of the legend, with their words.
var looks = []struct {
	look  Look
	words words.Text
}{
	{LookSign, words.Say("waits for a person")},
	{LookStop, words.Say("stopped")},
	{LookLate, words.Say("late")},
	{LookQuiet, words.Say("not heard from")},
	{LookHold, words.Say("holding")},
	{LookWork, words.Say("in work")},
	{LookDone, words.Say("released")},
	{LookIdle, words.Say("no release stands")},
}

// Idle adds a unit without a live run; released says that a release stands.
func (b *BoardView) Idle(u commissioning.Unit, released bool) {
	t := Tile{Name: tileName(u), Site: u.Site, Line: u.Line, Tag: u.Tag, URL: urls.Unit(u.Tag), Look: LookIdle, Part: -1, Spoken: words.Say("no release stands")}
	if released {
		t.Look, t.Spoken = LookDone, words.Say("released")
	}
	b.Tiles = append(b.Tiles, t)
}

// EndsSoon adds the release of an idle unit to those that end soon, if it does.
func (b *BoardView) EndsSoon(c commissioning.Certificate, now time.Time) {
	if days, soon := c.Expiring(now); soon {
		b.Ending = append(b.Ending, QueueRow{
			Icon: "late", Tag: c.Unit, URL: urls.Unit(c.Unit), Cause: words.Say("%s %s", string(c.Number), parts.ExpiresIn(days)), Since: *c.ValidUntil,
			Age: words.Plain(parts.Day(*c.ValidUntil, c.TimeZone)),
		})
	}
}

// TriedAs adds a person as whom somebody failed five times to prove their
// identity.
func (b *BoardView) TriedAs(name string, at, now time.Time) {
	b.Tried = append(b.Tried, QueueRow{Tag: name, Since: at, Age: parts.Ago(at, now)})
}

// Live adds a unit with its live run.
func (b *BoardView) Live(u commissioning.Unit, v RunView) {
	t := Tile{Name: tileName(u), Site: u.Site, Line: u.Line, Tag: u.Tag, URL: urls.Review(v.Run.ID), Part: -1}
	if v.Run.State == commissioning.Open {
		t.URL = urls.Run(v.Run.ID)
	}
	state := v.boardState()
	t.Look, t.Word, t.Number, t.Part = state.look, state.word, state.number, state.part
	t.Spoken = state.cause
	b.Tiles = append(b.Tiles, t)
	row := QueueRow{Tag: u.Tag, URL: t.URL, Cause: state.cause, Since: state.since, Age: parts.Ago(state.since, v.Now)}
	switch state.look {
	case LookSign:
		row.Icon, row.URL = "sign", urls.Review(v.Run.ID)
		b.Waiting = append(b.Waiting, row)
	case LookStop:
		row.Icon = "stop"
		b.Trouble = append(b.Trouble, row)
	case LookLate:
		row.Icon = "look"
		b.Trouble = append(b.Trouble, row)
	case LookQuiet:
		row.Icon = "quiet"
		b.Trouble = append(b.Trouble, row)
	}
}

// Sorted puts what waits longest first.
func (b BoardView) Sorted() BoardView {
	oldest := func(a, c QueueRow) int { return cmp.Or(a.Since.Compare(c.Since), cmp.Compare(a.Tag, c.Tag)) }
	slices.SortFunc(b.Waiting, oldest)
	slices.SortFunc(b.Trouble, oldest)
	slices.SortFunc(b.Ending, oldest)
	return b
}

// Count says how many tiles have a look.
func (b BoardView) Count(look Look) int {
	n := 0
	for _, t := range b.Tiles {
		if t.Look == look {
			n++
		}
	}
	return n
}

// BoardPieces are the parts of the board that change, by the names of their elements.
func BoardPieces(b BoardView) []Piece {
	return append([]Piece{
		{"told", Told(b.Told)},
		{"waiting", BoardWaiting(b)},
		{"trouble", BoardTrouble(b)},
		{"tried", BoardTried(b)},
		{"ending", BoardEnding(b)},
		{"legend", BoardLegend(b)},
	}, tilePieces(b)...)
}

func tilePieces(b BoardView) (out []Piece) {
	for _, t := range b.Tiles {
		out = append(out, Piece{t.Name, BoardTile(t)})
	}
	return out
}

func tileName(u commissioning.Unit) string { return fmt.Sprintf("tile-%d-%d", u.Site, u.Place) }

type boardState struct {
	look   Look
	word   words.Text
	number string
	part   int
	cause  words.Text
	since  time.Time
}

// boardState is what stands out of a live run, worst first.
func (v RunView) boardState() boardState {
	hold := v.Exam.Assessment.Hold
	switch open := v.openFault(); {
	case v.Run.State == commissioning.Submitted:
		return boardState{LookSign, words.Say("tile|sign"), "", -1, words.Say("%s submitted", v.Name(string(v.Run.Pen))), *v.Run.SubmittedAt}
	case len(v.Exam.Assessment.DecisionsNeeded) > 0:
		d := v.Exam.Assessment.DecisionsNeeded[0]
		return boardState{LookSign, words.Say("tile|rule"), "", -1, words.Say("Needs your ruling: %s", d.Text), v.Entry(d.Ref).ObservedAt}
	case open != nil:
		return boardState{LookStop, words.Say("tile|stop"), "", -1, words.Say("%s fault", faultName(open.Fault)), open.ObservedAt}
	case v.silence() > 0:
		return v.silentState()
	case hold.Verdict == rules.Pass:
		return boardState{LookHold, words.Say("tile|held"), "", 100, words.Say("hold complete"), v.Now}
	case hold.EarliestPass != nil:
		left := max(hold.EarliestPass.Sub(v.Now), 0)
		part := int(100 * hold.Held / max(hold.Required, 1))
		return boardState{LookHold, words.Text{}, wholeMinutes(left), part, words.Say("holding, %s min left", wholeMinutes(left)), v.Now}
	case len(hold.Breaks) > 0 && v.jet() == "running":
		last := hold.Breaks[len(hold.Breaks)-1]
		return boardState{LookStop, words.Say("tile|stop"), "", -1, stoppedTimes(len(hold.Breaks)), last.At}
	case v.settlingFor() > slowSettling:
		return boardState{LookLate, words.Say("tile|slow"), "", -1, words.Say("Settling for over 2 h"), v.Now.Add(slowSettling - v.settlingFor())}
	}
	return boardState{LookWork, words.Text{}, "", v.answeredPart(), words.Say("in work"), v.Now}
}

func stoppedTimes(n int) words.Text {
	if n == 1 {
		return words.Say("Hold stopped once")
	}
	return words.Say("Hold stopped %d times", n)
}

// Common practice, no source: an ink that has not settled in two hours is
// worth a look.
const slowSettling = 2 * time.Hour

// silentState: late after one silence that breaks a hold, not heard from after three.
func (v RunView) silentState() boardState {
	gap := v.Series(v.Viscosity()).Quantity.MaxGap.D
	last := v.Last(v.Viscosity()).Entry.ObservedAt
	if v.silence() > 3*gap {
		return boardState{LookQuiet, words.Say("tile|quiet"), "", -1, words.Say("Not heard from"), last}
	}
	return boardState{LookLate, words.Say("late"), "", -1, words.Say("Check late"), last.Add(gap)}
}

// silence is how long nothing was heard while the jet runs, 0 while that is
// within what the procedure allows.
func (v RunView) silence() time.Duration {
	last, gap := v.Last(v.Viscosity()), v.Series(v.Viscosity()).Quantity.MaxGap.D
	if last == nil || gap == 0 || v.jet() != "running" || v.Exam.Assessment.Hold.Verdict == rules.Pass {
		return 0
	}
	if d := v.Now.Sub(last.Entry.ObservedAt); d > gap {
		return d
	}
	return 0
}

func (v RunView) openFault() *commissioning.Entry {
	for i, f := range v.Exam.Faults {
		if f.ClearedBy == nil {
			return &v.Exam.Faults[i].Entry
		}
	}
	return nil
}

// settlingFor is the time since the first start while the viscosity gate is open.
func (v RunView) settlingFor() time.Duration {
	if v.Exam.Assessment.Viscosity.Verdict == rules.Pass {
		return 0
	}
	for _, e := range v.Exam.Live {
		if e.Kind == commissioning.KindStart {
			return v.Now.Sub(e.ObservedAt)
		}
	}
	return 0
}

func (v RunView) answeredPart() int {
	done := 0
	for _, s := range v.Exam.Steps {
		if s.Answered {
			done++
		}
	}
	return 100 * done / max(len(v.Exam.Steps), 1)
}
