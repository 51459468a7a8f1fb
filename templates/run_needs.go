package templates

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
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
	Name    string
	Number  string
	Meter   int // percent, -1 for none
	Reason  string
	Act     string // what a person can do, "" when only waiting helps
	ActIcon string
	URL     string
}

// MetGate is one thing that is in order.
type MetGate struct{ Name, Detail string }

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

func (v RunView) gatesTitle(open []Need) string {
	if len(open) == 0 {
		return "Nothing is missing"
	}
	return "Why not yet"
}

func (v RunView) gatesSub(open []Need) string {
	switch {
	case len(open) == 0 && v.Run.State == commissioning.Open:
		return "The engineer can sign"
	case len(open) == 0:
		return "Every gate is met"
	case len(open) == 1:
		return "1 thing still needed"
	}
	return fmt.Sprintf("%d things still needed", len(open))
}

func first(reasons []rules.Reason, otherwise string) string {
	if len(reasons) == 0 {
		return otherwise
	}
	return measure.Signs(reasons[0].Text.String())
}

// ruling gives the decisions that a gate waits for as one need.
func (v RunView) ruling(gate, name string, verdict rules.Verdict) []Need {
	var texts []string
	for _, d := range v.Exam.Assessment.DecisionsNeeded {
		if d.Gate == gate {
			texts = append(texts, measure.Signs(d.Text.String()))
		}
	}
	switch {
	case verdict == rules.Fail:
		return []Need{{Look: "bad", Icon: "stop", Name: name, Number: "rejected", Meter: -1, Reason: strings.Join(texts, " ")}}
	case len(texts) > 0:
		return []Need{{
			Look: "warn", Icon: "look", Name: name, Number: words.Count(len(texts), "ruling"), Meter: -1,
			Reason: texts[0] + " A supervisor decides in the review.",
		}}
	}
	return nil
}

func (v RunView) faultNeeds() []Need {
	g := v.Exam.Assessment.Faults
	needs := v.ruling("faults", "Faults", g.Verdict)
	if n := len(g.Open); n > 0 {
		f := v.Entry(g.Open[0])
		return append([]Need{{
			Look: "bad", Icon: "stop", Name: faultName(v.faultKind(g.Open[0])) + " fault", Number: "since " + v.Clock(f.ObservedAt), Meter: -1,
			Reason: "Nothing counts until it is cleared.", Act: "Say it is cleared", ActIcon: "met", URL: urls.Fault(v.Run.ID),
		}}, needs...)
	}
	if len(needs) > 0 || g.Verdict == rules.Pass || g.Verdict == rules.Fail {
		return needs
	}
	n := Need{Icon: "open", Name: "First start", Number: "not yet", Meter: -1, Reason: first(g.Reasons, "The jet was not started yet.")}
	switch v.jet() {
	case "running":
		n.Icon, n.Name, n.Number = "part", "Ready state", "not seen"
		n.Reason = first(g.Reasons, "A ready state is needed after the last clearing.")
	case "stopped":
		n.Look, n.Icon, n.Name, n.Number = "warn", "look", "Jet", "stopped"
		n.Act, n.ActIcon, n.URL = "Say it runs again", "on", urls.MoreForm(v.Run.ID, "start")
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
	needs := v.ruling("fluids", "Fluids", g.Verdict)
	for _, c := range v.Exam.Containers {
		if c.Over {
			needs = append(needs, Need{
				Look: "bad", Icon: "stop", Name: "Waste container", Number: c.PercentFull + " %", Meter: percent(c.PercentFull),
				Reason: "Over its limit of " + c.LimitML + " mL.", Act: "Say it was emptied", ActIcon: "waste", URL: urls.MoreForm(v.Run.ID, "empty"),
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
			Look: "warn", Icon: "look", Name: parts.PositionName(l.Entry.Position).String(), Number: l.Entry.LevelPercent + " %", Meter: -1,
			Reason: l.Problems[0].String(),
		}
		n.Act, n.ActIcon, n.URL = "Put in another container", "scan", v.loadURL(l.Entry)
		if l.Entry.Lot == nil || strings.TrimSpace(*l.Entry.Lot) == "" {
			n.Number, n.Act, n.ActIcon, n.URL = "no lot", "Correct the entry", "pencil", urls.Correction(v.Run.ID, l.Entry.Seq)
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
	if ruled := v.ruling("hold", "Hold", g.Verdict); ruled != nil {
		return ruled
	}
	n := Need{
		Icon: "open", Name: "Hold", Meter: 0, Reason: first(g.Reasons, ""),
		Number: heldOf(g.Held, g.Required),
	}
	switch {
	case g.EarliestPass != nil:
		n.Icon, n.Meter = "part", int(100*g.Held/g.Required)
		n.Reason = v.holdReason()
	case v.stale() != nil:
		n.Look, n.Icon, n.Meter, n.Number = "warn", "look", 100, minutesText(g.Required)
		n.Act, n.ActIcon, n.URL = "Type a reading", "pad", urls.Reading(v.Run.ID, v.Viscosity())
	case len(g.Breaks) > 0 && v.jet() == "running":
		n.Look, n.Icon = "bad", "stop"
		n.Reason = v.stoppedReason(g.Breaks[len(g.Breaks)-1])
	}
	return []Need{n}
}

// holdReason counts the checks of the running hold.
func (v RunView) holdReason() string {
	g := v.Exam.Assessment.Hold
	every := v.Series(v.Viscosity()).Quantity.Cadence.D
	if every <= 0 || g.From == nil {
		return "One check out of band, or one missed, starts it again."
	}
	in := 0
	for _, p := range v.Series(v.Viscosity()).Points {
		if p.Good && !p.Late && !p.Entry.ObservedAt.Before(*g.From) {
			in++
		}
	}
	all := int((g.Required+every-1)/every) + 1
	return fmt.Sprintf("%d of %d checks in a row. One out of band, or missed, starts it again.", min(in, all), all)
}

func (v RunView) stoppedReason(b rules.Break) string {
	for i := len(v.Exam.Holds) - 1; i >= 0; i-- {
		h := v.Exam.Holds[i]
		if !h.Running && h.To.Equal(b.At) {
			return fmt.Sprintf("Stopped at %s. The %s before stay on the record but do not count.", v.Clock(b.At), minutesText(h.To.Sub(h.From).Truncate(time.Minute)))
		}
	}
	return measure.Signs(b.Text.String())
}

func (v RunView) viscosityNeeds() []Need {
	g := v.Exam.Assessment.Viscosity
	if g.Verdict == rules.Pass {
		return nil
	}
	n := Need{
		Icon: "open", Name: v.Label(v.Viscosity()), Number: fmt.Sprintf("%d of %d", g.Checks, g.Required), Meter: -1,
		Reason: first(g.Reasons, ""),
	}
	if g.Checks > 0 {
		n.Icon = "part"
	}
	return []Need{n}
}

// stepsName is what the decisions of the steps gate are about: its instruments,
// where the first is.
func (v RunView) stepsName() string {
	for _, d := range v.Exam.Assessment.DecisionsNeeded {
		if d.Gate == commissioning.GateSteps {
			if strings.HasPrefix(d.Code, "instrument_") {
				return "Instruments"
			}
			break
		}
	}
	return "Lines"
}

func (v RunView) stepNeeds() []Need {
	g := v.Exam.Assessment.Steps
	needs := v.ruling("steps", v.stepsName(), g.Verdict)
	if len(g.Open) == 0 {
		return needs
	}
	all := len(v.Exam.Steps)
	n := Need{
		Icon: "part", Name: "Lines", Number: fmt.Sprintf("%d of %d", all-len(g.Open), all), Meter: 100 * (all - len(g.Open)) / all,
	}
	for _, st := range v.Exam.Steps {
		if !st.Answered && st.Step.Ask != commissioning.AskGate {
			n.Reason = "Next: " + v.Procedure.Sections[st.Section].Title + "."
			break
		}
	}
	if n.Reason == "" {
		n.Reason = "The lines that are open answer themselves."
	}
	return append(needs, n)
}

// Met lists what is in order, in the order of the work.
func (v RunView) Met() []MetGate {
	a, met := v.Exam.Assessment, []MetGate{}
	add := func(ok bool, name, detail string) {
		if ok {
			met = append(met, MetGate{name, detail})
		}
	}
	add(a.Fluids.Verdict == rules.Pass && len(v.Exam.Loads) > 0, "Fluids match unit", words.Count(len(v.Exam.Loads), "container"))
	for _, c := range v.Exam.Containers {
		add(!c.Over && c.VolumeML != "0", "Waste container", c.PercentFull+" % full")
	}
	add(a.Faults.Verdict == rules.Pass && a.Faults.Count > 0, "Faults", fmt.Sprintf("%d of %d cleared", a.Faults.Count-len(a.Faults.Open), a.Faults.Count))
	add(a.Faults.Verdict == rules.Pass && a.Faults.Count == 0, "Faults", "none")
	add(a.Viscosity.Verdict == rules.Pass, v.Label(v.Viscosity()), words.Count(a.Viscosity.Checks, "check")+" in band")
	for _, s := range v.Exam.Series {
		if n := len(s.Points); n > 0 && s.Quantity.Key != v.Viscosity() && s.Points[n-1].Good && !s.Points[n-1].Late {
			add(true, s.Quantity.Label, v.metDetail(s))
		}
	}
	add(a.Hold.Verdict == rules.Pass, "Hold", minutesText(a.Hold.Held.Truncate(time.Minute)))
	add(a.Steps.Verdict == rules.Pass, "Lines", fmt.Sprintf("%d of %d", len(v.Exam.Steps), len(v.Exam.Steps)))
	return met
}

func (v RunView) metDetail(s rules.Series) string {
	last := s.Points[len(s.Points)-1]
	if s.Quantity.State != nil {
		return "since " + v.Clock(goodSince(s.Points))
	}
	return last.Value + " " + measure.Sign(s.Quantity.Unit)
}

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
