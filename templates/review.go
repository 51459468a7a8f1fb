package templates

import (
	"encoding/hex"
	"fmt"
	"time"

	"settlemark/internal/chart"
	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// ReviewView is a run as a second person checks it.
type ReviewView struct {
	RunView
	Head    []byte        // of the record that this page shows
	Proving parts.Proving // of the signature form
	WhyNot  words.Text    // why the viewer may not countersign, empty when they may
	Blind   bool          // the viewer has yet to read the print sample
	// WaitsUntil is when the viewer may countersign whom a contributor let in or
	// gave new proofs of identity; nil when nothing of it is in the way.
	WaitsUntil *time.Time
	Reading    string // what the viewer read off it, "" before
	Form       ReviewForm
}

// ReviewForm is a refused form of this page: which one, and what it held.
type ReviewForm struct {
	Name string // sample, ruling-N, sign, return
	parts.Form
}

// For gives what the named form held; nothing for any other.
func (f ReviewForm) For(name string) parts.Form {
	if f.Name != name {
		return parts.Form{}
	}
	return f.Form
}

// HeadHex is what the forms send back, so that nobody signs what they did not see.
func (v ReviewView) HeadHex() string { return hex.EncodeToString(v.Head) }

// Title of the page, by what can be done on it.
func (v ReviewView) Title() words.Text {
	switch v.Run.State {
	case commissioning.Submitted:
		return words.Say("Check the work, then sign")
	case commissioning.Released:
		return words.Say("Checked, signed and released")
	case commissioning.Abandoned:
		return words.Say("Abandoned")
	}
	return words.Say("Work so far")
}

// recordName is the same as long as nothing was added to the run.
func (v RunView) recordName() string {
	return fmt.Sprintf("%s %d %d %x %d", v.Run.State, v.Run.Round, v.Run.Seq, v.Run.Head, len(v.Signatures))
}

// standing is the line beside the run's number.
func (v ReviewView) standing() words.Text {
	switch v.Run.State {
	case commissioning.Submitted:
		return words.Say("submitted %s", v.Clock(*v.Run.SubmittedAt))
	case commissioning.Released:
		return words.Say("released %s", v.Clock(*v.Run.ReleasedAt))
	case commissioning.Abandoned:
		return words.Say("abandoned %s", v.Clock(*v.Run.AbandonedAt))
	}
	return words.Say("open, last entry %s", v.Clock(v.lastTaken()))
}

// Submission is the engineer's signature of this round, nil before it.
func (v ReviewView) Submission() *commissioning.Signature {
	return v.signature(commissioning.Submission)
}

// Countersigned is the second signature of this round, nil before it.
func (v ReviewView) Countersigned() *commissioning.Signature {
	return v.signature(commissioning.Countersignature)
}

func (v ReviewView) signature(kind commissioning.SignatureKind) *commissioning.Signature {
	for i, s := range v.Signatures {
		if s.Round == v.Run.Round && s.Kind == kind {
			return &v.Signatures[i]
		}
	}
	return nil
}

// halves is the record as a split stick, drawn from its head.
func (v ReviewView) halves(l words.Language) chart.Chart {
	signed := chart.Unsigned
	switch {
	case v.Countersigned() != nil:
		signed = chart.ByBoth
	case v.Submission() != nil:
		signed = chart.ByEngineer
	}
	return chart.Split(l, v.Head, 372, 120, signed).Named("halves", "halves-")
}

// Sample is the print sample: its newest photo and what the engineer read off
// it. The text is not here while the viewer has yet to read it.
type Sample struct {
	Asked bool
	Photo string // SHA-256, "" when there is none
	Text  string
}

// Sample of the run's sample step.
func (v ReviewView) Sample() Sample {
	var sample Sample
	for _, st := range v.Exam.Steps {
		if st.Step.Ask != commissioning.AskSample {
			continue
		}
		sample.Asked = true
		for _, e := range st.Answers {
			switch {
			case e.Kind == commissioning.KindPhoto:
				sample.Photo = e.SHA256
			case e.Kind == commissioning.KindStep && !v.Blind:
				sample.Text = e.Text
			}
		}
	}
	return sample
}

// Agrees says whether both read the same, spaces and letter case aside.
func (v ReviewView) Agrees() bool { return commissioning.SameReading(v.Reading, v.Sample().Text) }

// MustRead says that the viewer's own reading comes before the signature.
func (v ReviewView) MustRead() bool {
	return v.Run.State == commissioning.Submitted && v.WhyNot.Empty() && v.Sample().Asked && v.Reading == ""
}

// Opens says when the signature opens, empty when it is open.
func (v ReviewView) Opens() words.Text {
	switch {
	case !v.WhyNot.Empty():
		return v.WhyNot
	case v.WaitsUntil != nil:
		return words.Say("opens for you at %s", parts.DayMinute(*v.WaitsUntil, v.Site.TimeZone))
	case v.Exam.Assessment.Verdict != rules.Releasable:
		return words.Say("opens when every gate passes")
	case v.MustRead():
		return words.Say("opens when you have read the sample")
	}
	return words.Text{}
}

// whyLocked says what has to happen before the signature.
func (v ReviewView) whyLocked() words.Text {
	switch {
	case !v.WhyNot.Empty():
		return words.Say("Someone else must sign.")
	case v.WaitsUntil != nil:
		return words.Say("Somebody who worked on this run gave you access or new proofs of identity less than 24 hours ago. Wait until then, or let someone else countersign.")
	case v.Exam.Assessment.Verdict != rules.Releasable:
		return words.Say("Not every gate passes. Rule on what needs a decision, or return the run.")
	}
	return words.Say("First read the print sample with your own eyes, below the evidence.")
}

// MayRule says whether the viewer may rule on entries of this run.
func (v ReviewView) MayRule() bool {
	open := v.Run.State == commissioning.Open || v.Run.State == commissioning.Submitted
	return open && v.Viewer.May(commissioning.RuleOnEntries, v.Run.Site) == nil
}

// MayReturn says whether the viewer may send the run back.
func (v ReviewView) MayReturn() bool {
	return v.Run.State == commissioning.Submitted && v.Viewer.May(commissioning.ReturnRun, v.Run.Site) == nil
}

// Evidence is one line that leads to what it speaks of.
type Evidence struct {
	Icon         string
	Name, Detail words.Text
	URL          string
}

// OpenFirst lists what is out of the ordinary.
func (v ReviewView) OpenFirst() []Evidence {
	var out []Evidence
	for _, f := range v.Odd() {
		out = append(out, Evidence{f.Icon, f.Name, f.Detail, urls.Logbook(v.Run.ID)})
	}
	for _, r := range v.Returns {
		out = append(out, Evidence{"look", words.Say("Sent back"), words.Say("%s by %s: %s", v.Clock(r.At), r.By, r.Reason), urls.Logbook(v.Run.ID)})
	}
	for _, seq := range sortedKeys(v.Exam.Rulings) {
		r := v.Exam.Rulings[seq]
		out = append(out, Evidence{"sign", words.Say("Ruled on"), words.Say("entry %d %s: %s", seq, ruledBy(r, v.Name(r.By)), r.Reason), v.entryURL(seq)})
	}
	if n := v.together(); n > 0 {
		out = append(out, Evidence{"look", words.Say("Entered together"), words.Say("%d entries typed within a minute, after a silence", n), urls.Logbook(v.Run.ID)})
	}
	return out
}

func (v RunView) entryURL(seq int) string {
	return urls.LogbookEntry(v.Run.ID, seq)
}

// Expected lists the gates that pass, with what they stand on.
func (v ReviewView) Expected() []Evidence {
	a := v.Exam.Assessment
	var out []Evidence
	add := func(verdict rules.Verdict, name, detail words.Text, url string) {
		if verdict == rules.Pass {
			out = append(out, Evidence{"met", name, detail, url})
		}
	}
	add(a.Steps.Verdict, words.Say("Steps"), words.Many(len(v.Exam.Steps), "%d step answered, in order", "%d steps answered, in order"), urls.RunStep(v.Run.ID, 0))
	add(a.Fluids.Verdict, words.Say("Fluids"), words.Many(len(v.Exam.Loads), "%d container put in, as asked; %s", "%d containers put in, each as asked; %s", v.wasteWords()), urls.Logbook(v.Run.ID))
	add(a.Faults.Verdict, words.Say("Faults"), faultCount(a.Faults.Count), urls.Logbook(v.Run.ID))
	add(a.Viscosity.Verdict, words.Say("Viscosity"), viscosityWords(a.Viscosity), "#evidence")
	if a.Hold.From != nil && a.Hold.To != nil {
		detail := words.Say("%s to %s, %s without a break; %s needed", v.Clock(*a.Hold.From), v.Clock(*a.Hold.To), minutesText(a.Hold.Held), minutesText(a.Hold.Required))
		add(a.Hold.Verdict, words.Say("Hold"), detail, "#evidence")
	}
	return out
}

func faultCount(n int) words.Text {
	if n == 0 {
		return words.Say("none")
	}
	return words.Many(n, "%d fault, cleared, within what is expected", "%d faults, cleared, within what is expected")
}

func viscosityWords(g rules.ViscosityGate) words.Text {
	if g.Lower == "" || g.Upper == "" {
		return words.Many(g.Checks, "%d check in band", "%d checks in band")
	}
	return words.Say("%s in %s to %s, %d of %d checks", words.Number(g.Value), words.Number(g.Lower), words.Number(g.Upper), g.Checks, g.Required)
}

func (v ReviewView) wasteWords() words.Text {
	if len(v.Exam.Containers) == 0 {
		return words.Say("no waste")
	}
	c := v.Exam.Containers[0]
	return words.Say("%s container %s %% full", c.Name, words.Number(c.PercentFull))
}
