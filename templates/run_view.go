package templates

import (
	"net/url"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// RunView is one run as its pages show it at one instant. Handlers fill it;
// everything on a page is read from it, nothing from a clock or a store.
type RunView struct {
	Run        commissioning.Run
	Unit       commissioning.Unit
	Site       commissioning.Site
	Makeup     commissioning.Fluid // as the register has it now: for estimates only
	Procedure  commissioning.Procedure
	Exam       rules.Examination
	Entries    []commissioning.Entry // all of them, by seq
	Returns    []Return
	Signatures []commissioning.Signature
	Changed    []string          // what of the record is no longer as it was stored or signed
	Names      map[string]string // person or logger code → printed name
	Zone       *time.Location
	Now        time.Time
	Told       []commissioning.Notice // the newest of the run
	Mates      []commissioning.Person // whom the viewer can hand the run over to
	Viewer     *commissioning.Person  // nil in what is sent to every screen
	Section    int                    // the section shown
	Preview    bool                   // of a draft: every card is shown and open, and nothing can be sent
	Kept       bool                   // a copy for a tablet to take along: what is shut is there too, for when it opens without the server
	Newer      int                    // an approved revision newer than that of the run, 0 when there is none
	Typed      Typed                  // what a refused form held
	Saved      int                    // seq of the entry just saved, 0 when none
	NewID      func() string          // ids for forms, so that a second click stores nothing
}

// Return is one time that a supervisor sent the run back.
type Return struct {
	At     time.Time
	By     string
	Reason string
}

// Typed is a refused form: which one, what it held, and why it was refused.
type Typed struct {
	Form   string // step id, or the name of the page
	Values url.Values
	Err    error
	Ask    words.Text // a question that "sure" answers, empty when none
}

// For gives what the form held; nothing for any other form.
func (t Typed) For(form string) parts.Form {
	if t.Form != form {
		return parts.Form{}
	}
	return parts.Form{Values: t.Values, Err: t.Err}
}

// Or gives what was typed into a field, or a first value where nothing was.
func (t Typed) Or(form, field, first string) string {
	if t.Form != form || !t.Values.Has(field) {
		return first
	}
	return t.Values.Get(field)
}

// Question to be answered by "sure", empty when none was asked.
func (t Typed) Question(form string) words.Text {
	if t.Form != form {
		return words.Text{}
	}
	return t.Ask
}

// Clock is an instant in site time: hours and minutes, with the date in front
// when it is not the day of the page.
func (v RunView) Clock(t time.Time) string {
	local, now := t.In(v.Zone), v.Now.In(v.Zone)
	if local.Year() != now.Year() || local.YearDay() != now.YearDay() {
		return words.Moment(local, "2006-01-02 15:04")
	}
	return words.Moment(local, "15:04")
}

// Stamp is an instant in site time with date and seconds.
func (v RunView) Stamp(t time.Time) string { return words.Moment(t.In(v.Zone), "2006-01-02 15:04:05") }

// Name is the printed name behind a code; the code itself where none is known.
func (v RunView) Name(code string) string {
	if name := v.Names[code]; name != "" {
		return name
	}
	return code
}

// Writes says whether the viewer may add entries of every kind: the pen holder
// of an open run.
func (v RunView) Writes() bool {
	return v.Preview || v.Viewer != nil && v.Run.State == commissioning.Open && v.Run.Pen == v.Viewer.ID &&
		v.Viewer.Has(commissioning.Engineer, v.Run.Site)
}

// Helps says whether the viewer may add a fault or a note, and take the pen.
func (v RunView) Helps() bool {
	return v.Viewer != nil && v.Run.State == commissioning.Open && v.Viewer.Has(commissioning.Engineer, v.Run.Site)
}

// Pen is what the logbook says of who holds the pen.
func (v RunView) Pen() commissioning.Pen { return commissioning.PenOf(v.Entries, v.Run.Pen) }

// Series of one quantity; empty where the procedure has none of that name.
func (v RunView) Series(quantity string) rules.Series {
	for _, s := range v.Exam.Series {
		if s.Quantity.Key == quantity {
			return s
		}
	}
	return rules.Series{}
}

// Quantity of the procedure by its key.
func (v RunView) Quantity(key string) (commissioning.Quantity, bool) {
	for _, q := range v.Procedure.Quantities {
		if q.Key == key {
			return q, true
		}
	}
	return commissioning.Quantity{}, false
}

// Last point of a quantity, nil when nothing was read.
func (v RunView) Last(quantity string) *rules.Point {
	points := v.Series(quantity).Points
	if len(points) == 0 {
		return nil
	}
	return &points[len(points)-1]
}

// Viscosity is the quantity that the viscosity gate looks at.
func (v RunView) Viscosity() string { return v.Procedure.Gates.Viscosity.Quantity }

// unit is what a quantity is recorded in.
func (v RunView) unit(quantity string) string {
	q, _ := v.Quantity(quantity)
	return q.Unit
}

// Label is the procedure's name of a quantity, or its key.
func (v RunView) Label(quantity string) string {
	if q, ok := v.Quantity(quantity); ok && q.Label != "" {
		return q.Label
	}
	return quantity
}

// Entry by its seq; the zero entry when there is none.
func (v RunView) Entry(seq int) commissioning.Entry {
	if seq < 1 || seq > len(v.Entries) {
		return commissioning.Entry{}
	}
	return v.Entries[seq-1]
}
