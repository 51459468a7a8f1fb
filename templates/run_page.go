package templates

import (
	"context"
	"strconv"
	"time"

	"github.com/a-h/templ"

	"settlemark/internal/chart"
	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

func (v RunView) place() string {
	place := v.Run.Line
	if v.Run.Bench != "" {
		if place != "" {
			place += ", "
		}
		place += v.Run.Bench
	}
	return place
}

func (v RunView) lastReceived() time.Time {
	last := v.Entries[len(v.Entries)-1]
	if last.ReceivedAt != nil {
		return *last.ReceivedAt
	}
	return last.ObservedAt
}

func (v RunView) capLine() words.Text {
	all := len(v.Procedure.Sections)
	if here := v.Here(); here < all {
		return words.Say("Section %d of %d", here+1, all)
	}
	switch v.Run.State {
	case commissioning.Open:
		return words.Say("All sections done")
	case commissioning.Submitted:
		return words.Say("Waits for the second signature")
	}
	return stateName(v.Run.State)
}

// stickCurrent marks the section that the page shows. What is sent to every
// screen marks none; the page's script puts the mark back.
func (v RunView) stickCurrent(s SectionView) templ.Attributes {
	if v.Viewer != nil && s.Index == v.Section {
		return templ.Attributes{"aria-current": "step"}
	}
	return nil
}

// stateName is the state of a run as a word of its own.
func stateName(state commissioning.State) words.Text {
	switch state {
	case commissioning.Open:
		return words.Say("run|Open")
	case commissioning.Submitted:
		return words.Say("run|Submitted")
	case commissioning.Released:
		return words.Say("Released")
	case commissioning.Abandoned:
		return words.Say("Abandoned")
	}
	return words.Plain(string(state))
}

func stateWord(state string) words.Text {
	switch state {
	case "done":
		return words.Say(", done")
	case "now":
		return words.Say(", now")
	}
	return words.Say(", not started")
}

func (v RunView) submitState() string {
	switch {
	case v.Run.State != commissioning.Open:
		return "done"
	case v.Here() == len(v.Procedure.Sections):
		return "now"
	}
	return "todo"
}

func (v RunView) submitSmall() string {
	if v.Run.SubmittedAt != nil && v.Run.State != commissioning.Open {
		return v.Clock(*v.Run.SubmittedAt)
	}
	return ""
}

func (v RunView) hasHold() bool {
	for _, st := range v.Exam.Steps {
		if st.Step.Ask == commissioning.AskGate {
			return true
		}
	}
	return false
}

func (v RunView) showsHold(sections []SectionView) bool {
	if v.Section < len(sections) {
		return sections[v.Section].Hold
	}
	return true
}

// lastConfirmed is the newest line of the procedure that somebody answered.
func (v RunView) lastConfirmed() (commissioning.Entry, bool) {
	for i := len(v.Entries) - 1; i >= 0; i-- {
		e := v.Entries[i]
		if _, struck := v.Exam.Struck[e.Seq]; e.Step != "" && !struck {
			return e, true
		}
	}
	return commissioning.Entry{}, false
}

func (v RunView) lastReturn() *Return {
	if v.Run.State != commissioning.Open || len(v.Returns) == 0 {
		return nil
	}
	return &v.Returns[len(v.Returns)-1]
}

// Way leads on from a page of the run.
type Way struct {
	Label, Small words.Text
	URL          string
	Duty         bool // somebody must do it
}

// ToHere leads to where the work stands. It does not depend on who looks.
func (v RunView) ToHere() Way {
	sections, here := v.Sections(), v.Here()
	switch {
	case v.Run.State == commissioning.Submitted:
		return Way{Label: words.Say("Review"), Small: words.Say("second signature"), URL: urls.Review(v.Run.ID)}
	case v.Run.State == commissioning.Released:
		return Way{Label: words.Say("Certificate"), Small: words.Plain(string(v.Run.Certificate)), URL: urls.Certificate(v.Run.Certificate)}
	case v.Run.State != commissioning.Open:
		return Way{}
	case here == len(sections):
		return Way{Label: words.Say("Submit"), Small: words.Say("sign what you did"), URL: urls.Submit(v.Run.ID), Duty: true}
	}
	s := sections[here]
	return Way{Label: words.Plain(s.Title), Small: s.Small, URL: urls.RunStep(v.Run.ID, here), Duty: !s.Hold}
}

// AfterHere names the section after the one where the work stands, and when it
// opens. Sections in which the unit settles are taken together.
func (v RunView) AfterHere() Way {
	sections, here := v.Sections(), v.Here()
	if v.Run.State != commissioning.Open || here == len(sections) {
		return Way{}
	}
	next := here + 1
	for next < len(sections) && sections[here].Hold && sections[next].Hold {
		next++
	}
	opens := words.Say("opens after %s", sections[here].Title)
	if sections[here].Hold {
		opens = v.opens()
	}
	if next == len(sections) {
		return Way{Label: words.Say("Submit"), Small: opens}
	}
	if sections[next].Shut.Empty() {
		opens = sections[next].Small
	}
	return Way{Label: words.Plain(sections[next].Title), Small: opens}
}

// drawnAt is the "now" of the picture: it moves once a minute, and with each
// check.
func (v RunView) drawnAt() time.Time {
	now := v.Exam.Assessment.At.Truncate(time.Minute)
	if last := v.Last(v.Viscosity()); last != nil && last.Entry.ObservedAt.After(now) {
		return last.Entry.ObservedAt
	}
	return now
}

// chart at one width.
func (v RunView) chart(l words.Language, class string, width, height float64, narrow bool) templ.Component {
	c := chart.Settling(v.Exam, chart.Options{
		Width: width, Height: height, Zone: v.Zone, Now: v.drawnAt(), Quantity: v.Viscosity(),
		Narrow: narrow, Language: l, Class: "chart " + class, Prefix: "c-" + class + "-",
	})
	return templRaw(c.SVG())
}

// chartHeight leaves room where the section has lines beside its gate.
func (v RunView) chartHeight() float64 {
	sections := v.Sections()
	if here := v.Here(); here < len(sections) && sections[here].Hold && len(sections[here].Lines) > 1 {
		return 316
	}
	return 372
}

func (v RunView) rows() []chart.Row { return chart.Table(v.Exam, v.Viscosity()) }

func rowWord(r chart.Row) words.Text {
	if r.Counts {
		return words.Say("counts")
	}
	return r.Why
}

func rowHow(r chart.Row) words.Text {
	var typed, late words.Text
	if r.Typed {
		typed = words.Say("typed")
	}
	if r.Late {
		late = words.Say("late")
	}
	return words.Join(", ", typed, late)
}

func unixMS(t *time.Time) string {
	if t == nil {
		return ""
	}
	return strconv.FormatInt(t.UnixMilli(), 10)
}

// timer says the minutes as a sentence; {n} stands for those that the script
// counts down to.
func (l Lead) timer() words.Text {
	if l.Number == "1" {
		return l.lastMinute()
	}
	return words.Say("%s minutes %s", l.Number, l.Label)
}

func (l Lead) lastMinute() words.Text { return words.Say("%s minute %s", "1", l.Label) }

func (l Lead) minutesToGo() words.Text { return words.Say("%s minutes %s", "{n}", l.Label) }

// dueNow is what stands in place of the time left once it has run out on the
// page; nothing where the server has said so already.
func (l Lead) dueNow(ctx context.Context) string {
	if l.Overdue {
		return ""
	}
	return parts.T(ctx, "check due now")
}
