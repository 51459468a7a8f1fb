package commissioning

import (
	"fmt"
	"regexp"
	"time"

	"settlemark/internal/problem"
)

// One person at a time records in a run. How the pen went on stands in the
// logbook as notes with a remark of one of two forms, so that a hand-over is
// evidence, is signed with the rest, and can be written without the server.

// HandOverTo is the remark of a note by which its writer hands the run over.
func HandOverTo(p Person) string { return fmt.Sprintf("Hands the run over to %s (%s).", p.Name, p.ID) }

// TookPenFrom is the remark of a note by which its writer took the pen.
func TookPenFrom(name string, id PersonID) string {
	return fmt.Sprintf("Took the pen from %s (%s).", name, id)
}

var (
	handsOver = regexp.MustCompile(`^Hands the run over to (.+) \(([^()]+)\)\.$`)
	tookPen   = regexp.MustCompile(`^Took the pen from (.+) \(([^()]+)\)\.$`)
)

// NoPen refuses an entry out of somebody's hand whose remark would be read as how
// the pen went on: that is written by the acts that move it, never typed.
func (e Entry) NoPen() error {
	for _, shown := range []*Entry{&e, e.Replacement} {
		if shown == nil || shown.Kind != KindNote {
			continue
		}
		if handsOver.MatchString(shown.Note) || tookPen.MatchString(shown.Note) {
			return problem.New(problem.Invalid, "This remark says how the pen went on. Hand the run over, or take the pen, on the page of the pen.")
		}
	}
	return nil
}

// HandedTo gives the name and code of whom a hand-over is for; "" of any other entry.
func (e Entry) HandedTo() (name string, id PersonID) { return e.named(handsOver) }

// TakenFrom gives the name and code of who held the pen before its writer took
// it; "" of any other entry.
func (e Entry) TakenFrom() (name string, id PersonID) { return e.named(tookPen) }

func (e Entry) named(remark *regexp.Regexp) (string, PersonID) {
	if m := remark.FindStringSubmatch(e.Note); m != nil && e.Kind == KindNote {
		return m[1], PersonID(m[2])
	}
	return "", ""
}

// Pen is what a logbook says of who holds the pen.
type Pen struct {
	Holder   PersonID
	Since    time.Time // when it was taken, zero of who opened the run
	Offered  *Entry    // the hand-over that its holder has written, and that nobody has taken
	HandedBy *Entry    // the hand-over by which the holder got it, until they record something
}

// PenOf reads the notes about the pen.
func PenOf(entries []Entry, holder PersonID) Pen {
	struck := map[int]bool{}
	for _, e := range entries {
		struck[e.Strikes] = true
	}
	pen := Pen{Holder: holder}
	for _, e := range entries {
		if e.Replacement != nil {
			r := *e.Replacement
			r.Seq, r.By = e.Seq, e.By
			e = r
		}
		_, to := e.HandedTo()
		_, from := e.TakenFrom()
		switch {
		case struck[e.Seq]:
		case from != "":
			pen.Since, pen.HandedBy = e.ObservedAt, pen.Offered
			if pen.Offered != nil && !pen.OfferedTo(PersonID(e.By)) {
				pen.HandedBy = nil
			}
			pen.Offered = nil
		case to != "":
			pen.Offered = &e
		case PersonID(e.By) == holder:
			pen.HandedBy = nil
		}
	}
	if pen.Offered != nil && PersonID(pen.Offered.By) != holder {
		pen.Offered = nil
	}
	return pen
}

// OfferedTo says whether the holder hands the run over to the person.
func (p Pen) OfferedTo(id PersonID) bool {
	if p.Offered == nil {
		return false
	}
	_, to := p.Offered.HandedTo()
	return to == id
}
