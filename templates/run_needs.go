package templates

import (
	"strconv"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// mostNeeds are shown open; the rest is a number.
const mostNeeds = 4

// Need is one thing that still stands between the unit and its release.
type Need struct {
	Look    string // "", warn, bad
	Icon    string
	Name    words.Text
	Number  words.Text
	Meter   int // percent, -1 for none
	Reason  words.Text
	Act     words.Text // what a person can do, empty when only waiting helps
	ActIcon string
	URL     string
}

// MetGate is one thing that is in order.
type MetGate struct{ Name, Detail words.Text }

// Needs lists what is open, worst first.
func (v RunView) Needs() []Need {
	var bad, wait []Need
	for _, n := range [][]Need{v.faultNeeds(), v.fluidNeeds(), v.holdNeeds(), v.viscosityNeeds(), v.stepNeeds()} {
		for _, one := range n {
			if one.Look == "bad" || one.Look == "warn" {
				bad = append(bad, one)
			} else {
				wait = append(wait, one)
			}
		}
	}
	return append(bad, wait...)
}

func (v RunView) gatesTitle(open []Need) words.Text {
	if len(open) == 0 {
		return words.Say("Nothing is missing")
	}
	return words.Say("Why not yet")
}

func (v RunView) gatesSub(open []Need) words.Text {
	switch {
	case len(open) == 0 && v.Run.State == commissioning.Open:
		return words.Say("The engineer can sign")
	case len(open) == 0:
		return words.Say("Every gate is met")
	}
	return words.Many(len(open), "%d thing still needed", "%d things still needed")
}

func first(reasons []rules.Reason, otherwise words.Text) words.Text {
	if len(reasons) == 0 {
		return otherwise
	}
	return reasons[0].Text
}

// ruling gives the decisions that a gate waits for as one need.
func (v RunView) ruling(gate string, name words.Text, verdict rules.Verdict) []Need {
	var texts []words.Text
	for _, d := range v.Exam.Assessment.DecisionsNeeded {
		if d.Gate == gate {
			texts = append(texts, d.Text)
		}
	}
	switch {
	case verdict == rules.Fail:
		return []Need{{Look: "bad", Icon: "stop", Name: name, Number: words.Say("rejected"), Meter: -1, Reason: words.Sentences(texts...)}}
	case len(texts) > 0:
		return []Need{{
			Look: "warn", Icon: "look", Name: name, Number: words.Many(len(texts), "%d ruling", "%d rulings"), Meter: -1,
			Reason: words.Sentences(texts[0], words.Say("A supervisor decides in the review.")),
		}}
	}
	return nil
}

func (v RunView) faultNeeds() []Need {
	g := v.Exam.Assessment.Faults
	needs := v.ruling("faults", words.Say("Faults"), g.Verdict)
	if n := len(g.Open); n > 0 {
		f := v.Entry(g.Open[0])
		return append([]Need{{
			Look: "bad", Icon: "stop", Name: words.Say("%s fault", faultName(v.faultKind(g.Open[0]))), Number: words.Say("since %s", v.Clock(f.ObservedAt)), Meter: -1,
			Reason: words.Say("Nothing counts until it is cleared."), Act: words.Say("Say it is cleared"), ActIcon: "met", URL: urls.Fault(v.Run.ID),
		}}, needs...)
	}
	if len(needs) > 0 || g.Verdict == rules.Pass || g.Verdict == rules.Fail {
		return needs
	}
	n := Need{Icon: "open", Name: words.Say("First start"), Number: words.Say("not yet"), Meter: -1, Reason: first(g.Reasons, words.Say("The jet was not started yet."))}
	switch v.jet() {
	case "running":
		n.Icon, n.Name, n.Number = "part", words.Say("Ready state"), words.Say("not seen")
		n.Reason = first(g.Reasons, words.Say("A ready state is needed after the last clearing."))
	case "stopped":
		n.Look, n.Icon, n.Name, n.Number = "warn", "look", words.Say("Jet"), words.Say("stopped")
		n.Act, n.ActIcon, n.URL = words.Say("Say it runs again"), "on", urls.MoreForm(v.Run.ID, "start")
	}
	return []Need{n}
}

// faultKind is the kind of a live fault, also of one that stands under the seq
// of a correction.
func (v RunView) faultKind(seq int) string {
	for _, f := range v.Exam.Faults {
		if f.Entry.Seq == seq {
			return f.Entry.Fault
		}
	}
	return v.Entry(seq).Fault
}

func (v RunView) fluidNeeds() []Need {
	g := v.Exam.Assessment.Fluids
	needs := v.ruling("fluids", words.Say("Fluids"), g.Verdict)
	for _, c := range v.Exam.Containers {
		if c.Over {
			needs = append(needs, Need{
				Look: "bad", Icon: "stop", Name: words.Say("Waste container"), Number: percentText(c.PercentFull), Meter: percent(c.PercentFull),
				Reason: words.Say("Over its limit of %s mL.", words.Number(c.LimitML)), Act: words.Say("Say it was emptied"), ActIcon: "waste", URL: urls.MoreForm(v.Run.ID, "empty"),
			})
		}
	}
	if g.Verdict != rules.Pending {
		return needs
	}
	for _, l := range v.Exam.Loads {
		if len(l.Problems) == 0 || v.decided(l.Entry.Seq) {
			continue
		}
		n := Need{
			Look: "warn", Icon: "look", Name: parts.PositionName(l.Entry.Position), Number: percentText(l.Entry.LevelPercent), Meter: -1,
			Reason: l.Problems[0],
		}
		n.Act, n.ActIcon, n.URL = words.Say("Put in another container"), "scan", v.loadURL(l.Entry)
		if l.Entry.Lot == nil || strings.TrimSpace(*l.Entry.Lot) == "" {
			n.Number, n.Act, n.ActIcon, n.URL = words.Say("no lot"), words.Say("Correct the entry"), "pencil", urls.Correction(v.Run.ID, l.Entry.Seq)
		}
		needs = append(needs, n)
	}
	return needs
}

func (v RunView) decided(seq int) bool {
	for _, d := range v.Exam.Assessment.DecisionsNeeded {
		if d.Ref == seq {
			return true
		}
	}
	return false
}

func (v RunView) loadURL(e commissioning.Entry) string {
	if e.Step == "" {
		return urls.MoreForm(v.Run.ID, "load")
	}
	return urls.RunLine(v.Run.ID, v.SectionOf(e.Step), e.Step)
}

func (v RunView) holdNeeds() []Need {
	g := v.Exam.Assessment.Hold
	if g.Verdict == rules.Pass {
		return nil
	}
	if ruled := v.ruling("hold", words.Say("Hold"), g.Verdict); ruled != nil {
		return ruled
	}
	n := Need{
		Icon: "open", Name: words.Say("Hold"), Meter: 0, Reason: first(g.Reasons, words.Text{}),
		Number: heldOf(g.Held, g.Required),
	}
	switch {
	case g.EarliestPass != nil:
		n.Icon, n.Meter = "part", int(100*g.Held/g.Required)
		n.Reason = v.holdReason()
	case v.stale() != nil:
		n.Look, n.Icon, n.Meter, n.Number = "warn", "look", 100, minutesText(g.Required)
		n.Act, n.ActIcon, n.URL = words.Say("Type a reading"), "pad", urls.Reading(v.Run.ID, v.Viscosity())
	case len(g.Breaks) > 0 && v.jet() == "running":
		n.Look, n.Icon = "bad", "stop"
		n.Reason = v.stoppedReason(g.Breaks[len(g.Breaks)-1])
	}
	return []Need{n}
}

// holdReason counts the checks of the running hold.
func (v RunView) holdReason() words.Text {
	g := v.Exam.Assessment.Hold
	every := v.Series(v.Viscosity()).Quantity.Cadence.D
	if every <= 0 || g.From == nil {
		return words.Say("One check out of band, or one missed, starts it again.")
	}
	in := 0
	for _, p := range v.Series(v.Viscosity()).Points {
		if p.Good && !p.Late && !p.Entry.ObservedAt.Before(*g.From) {
			in++
		}
	}
	all := int((g.Required+every-1)/every) + 1
	return words.Say("%d of %d checks in a row. One out of band, or missed, starts it again.", min(in, all), all)
}

func (v RunView) stoppedReason(b rules.Break) words.Text {
	for i := len(v.Exam.Holds) - 1; i >= 0; i-- {
		h := v.Exam.Holds[i]
		if !h.Running && h.To.Equal(b.At) {
			return words.Say("Stopped at %s. The %s before stay on the record but do not count.", v.Clock(b.At), minutesText(h.To.Sub(h.From).Truncate(time.Minute)))
		}
	}
	return b.Text
}

func (v RunView) viscosityNeeds() []Need {
	g := v.Exam.Assessment.Viscosity
	if g.Verdict == rules.Pass {
		return nil
	}
	n := Need{
		Icon: "open", Name: words.Plain(v.Label(v.Viscosity())), Number: words.Say("%d of %d", g.Checks, g.Required), Meter: -1,
		Reason: first(g.Reasons, words.Text{}),
	}
	if g.Checks > 0 {
		n.Icon = "part"
	}
	return []Need{n}
}

// stepsName is what the decisions of the steps gate are about: its instruments,
// where the first is.
func (v RunView) stepsName() words.Text {
	for _, d := range v.Exam.Assessment.DecisionsNeeded {
		if d.Gate == commissioning.GateSteps {
			if strings.HasPrefix(d.Code, "instrument_") {
				return words.Say("Instruments")
			}
			break
		}
	}
	return words.Say("list|Lines")
}

func (v RunView) stepNeeds() []Need {
	g := v.Exam.Assessment.Steps
	needs := v.ruling("steps", v.stepsName(), g.Verdict)
	if len(g.Open) == 0 {
		return needs
	}
	all := len(v.Exam.Steps)
	n := Need{
		Icon: "part", Name: words.Say("list|Lines"), Number: words.Say("%d of %d", all-len(g.Open), all), Meter: 100 * (all - len(g.Open)) / all,
	}
	if n.Reason = v.nextOpenLine(); n.Reason.Empty() {
		n.Reason = words.Say("The lines that are open answer themselves.")
	}
	return append(needs, n)
}

// Met lists what is in order, in the order of the work.
func (v RunView) Met() []MetGate {
	a, met := v.Exam.Assessment, []MetGate{}
	add := func(ok bool, name, detail words.Text) {
		if ok {
			met = append(met, MetGate{name, detail})
		}
	}
	add(a.Fluids.Verdict == rules.Pass && len(v.Exam.Loads) > 0, words.Say("Fluids match unit"), containerCount(len(v.Exam.Loads)))
	for _, c := range v.Exam.Containers {
		add(!c.Over && c.VolumeML != "0", words.Say("Waste container"), words.Say("%s %% full", words.Number(c.PercentFull)))
	}
	add(a.Faults.Verdict == rules.Pass && a.Faults.Count > 0, words.Say("Faults"), words.Say("%d of %d cleared", a.Faults.Count-len(a.Faults.Open), a.Faults.Count))
	add(a.Faults.Verdict == rules.Pass && a.Faults.Count == 0, words.Say("Faults"), words.Say("none"))
	add(a.Viscosity.Verdict == rules.Pass, words.Plain(v.Label(v.Viscosity())), words.Many(a.Viscosity.Checks, "%d check in band", "%d checks in band"))
	for _, s := range v.Exam.Series {
		if n := len(s.Points); n > 0 && s.Quantity.Key != v.Viscosity() && s.Points[n-1].Good && !s.Points[n-1].Late {
			add(true, words.Plain(s.Quantity.Label), v.metDetail(s))
		}
	}
	add(a.Hold.Verdict == rules.Pass, words.Say("Hold"), minutesText(a.Hold.Held.Truncate(time.Minute)))
	add(a.Steps.Verdict == rules.Pass, words.Say("list|Lines"), words.Say("%d of %d", len(v.Exam.Steps), len(v.Exam.Steps)))
	return met
}

func (v RunView) metDetail(s rules.Series) words.Text {
	last := s.Points[len(s.Points)-1]
	if s.Quantity.State != nil {
		return words.Say("since %s", v.Clock(goodSince(s.Points)))
	}
	return withUnit(last.Value, s.Quantity.Unit)
}

func containerCount(n int) words.Text { return words.Many(n, "%d container", "%d containers") }

func goodSince(points []rules.Point) time.Time {
	i := len(points) - 1
	for i > 0 && points[i-1].Good {
		i--
	}
	return points[i].Entry.ObservedAt
}

func percent(text string) int {
	n, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return 0
	}
	return int(n)
}
