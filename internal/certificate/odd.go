package certificate

import (
	"slices"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// oddKind is a kind of what is out of the ordinary: how it is headed, and how it
// is named where there was none.
type oddKind struct{ head, none words.Text }

// The kinds in the order in which they are printed.
var (
	oddReturned  = &oddKind{words.Say("Sent back"), words.Say("sent back")}
	oddSample    = &oddKind{words.Say("Sample"), words.Say("sample read differently")}
	oddRuling    = &oddKind{words.Say("Ruling"), words.Say("rulings")}
	oddCorrected = &oddKind{words.Say("Corrected"), words.Say("corrections")}
	oddLate      = &oddKind{words.Say("Late"), words.Say("late entries")}
	oddTyped     = &oddKind{words.Say("Typed"), words.Say("typed readings")}
	oddHold      = &oddKind{words.Say("Hold broken"), words.Say("breaks of the hold")}
	oddFault     = &oddKind{words.Say("Fault"), words.Say("faults beyond the procedure")}
	oddMeasured  = &oddKind{words.Say("Instrument"), words.Say("instruments overdue or too unsure")}
	oddLeftOut   = &oddKind{words.Say("Left out"), words.Say("steps or entries left out")}
)

// most of one kind are printed one by one; a line counts the rest, which stand
// in the attached logbook as all entries do.
const most = 12

// odd gathers everything out of the ordinary, and says what there was none of.
// Of instruments it speaks only where the record names some.
func (c *composer) odd() (all []Remark, ordinary string) {
	var none []string
	for _, group := range []struct {
		kind *oddKind
		text []string
	}{
		{oddReturned, c.returned()},
		{oddSample, c.mismatch()},
		{oddRuling, c.rulings()},
		{oddCorrected, c.corrections()},
		{oddLate, c.late()},
		{oddTyped, c.typed()},
		{oddHold, c.breaks()},
		{oddFault, c.beyond()},
		{oddMeasured, c.measured()},
		{oddLeftOut, c.leftOut()},
	} {
		if len(group.text) == 0 && (group.kind != oddMeasured || len(c.Exam.Instruments) > 0) {
			none = append(none, group.kind.none.In(c.lang))
		}
		if n := len(group.text) - most; n > 1 {
			rest := c.say("and %d more, each in the attached %s", n, LogbookName)
			if group.kind == oddReturned {
				rest = c.say("and %d more, each in the run's record", n)
			}
			group.text = append(group.text[:most:most], rest)
		}
		for _, text := range group.text {
			all = append(all, Remark{group.kind.head.In(c.lang), text})
		}
	}
	if len(none) > 0 {
		ordinary = c.say("None: %s.", strings.Join(none, ", "))
	}
	return all, ordinary
}

func (c *composer) returned() []string {
	var out []string
	for _, r := range c.Returns {
		out = append(out, c.say("Round %d by %s, %s: “%s”", r.Round, r.By, c.full(r.At), c.cut(r.Reason, 400)))
	}
	return out
}

func (c *composer) mismatch() []string {
	s := c.countersigned
	if s.Reading == "" || s.Agrees {
		return nil
	}
	return []string{c.say("%s read “%s”, which differs from the engineer's reading. Released because: “%s”",
		s.Name, c.cut(s.Reading, 80), c.cut(s.Mismatch, 400))}
}

func (c *composer) rulings() []string {
	var out []string
	for _, e := range c.Logbook.Entries {
		if e.Kind != commissioning.KindDisposition {
			continue
		}
		by, what, at, reason := c.name(e.By), c.what(c.bySeq[e.Ref]), c.clock(e.ObservedAt), c.cut(e.Reason, 400)
		text := c.say("%s accepted entry %d (%s), %s: “%s”", by, e.Ref, what, at, reason)
		if e.Decision == commissioning.Reject {
			text = c.say("%s rejected entry %d (%s), %s: “%s”", by, e.Ref, what, at, reason)
		}
		if now, ok := c.Exam.Rulings[e.Ref]; ok && now.Seq != e.Seq {
			text = c.say("%s, overruled later", text)
		}
		out = append(out, text)
	}
	return out
}

func (c *composer) corrections() []string {
	var out []string
	for _, e := range c.Logbook.Entries {
		if e.Kind != commissioning.KindCorrection {
			continue
		}
		text := c.say("%s struck entry %d (%s), %s: “%s”", c.name(e.By), e.Strikes, c.what(c.struck(e.Strikes)), c.clock(e.ObservedAt), c.cut(e.Reason, 300))
		if e.Replacement != nil {
			text = c.say("%s; now %s", text, c.what(*e.Replacement))
		}
		out = append(out, text)
	}
	return out
}

// struck gives what a correction strikes: an entry, or an earlier replacement.
func (c *composer) struck(seq int) commissioning.Entry {
	e := c.bySeq[seq]
	if e.Kind == commissioning.KindCorrection && e.Replacement != nil {
		return *e.Replacement
	}
	return e
}

// late tells late entries one by one while there are few, else together by kind.
func (c *composer) late() []string {
	type bunch struct {
		name       string
		n          int
		from, to   time.Time
		longest    time.Duration
		accepted   int
		unproven   int
		firstEntry commissioning.Entry
	}
	var all []*bunch
	for _, e := range c.Exam.Live {
		if !c.Exam.Late[e.Seq] {
			continue
		}
		name := kindNames[e.Kind].In(c.lang)
		if e.Kind == commissioning.KindReading {
			name = c.say("readings of %s", c.quantity(e.Quantity).Label)
		}
		i := slices.IndexFunc(all, func(b *bunch) bool { return b.name == name })
		if i < 0 {
			all = append(all, &bunch{name: name, from: e.ObservedAt, firstEntry: e})
			i = len(all) - 1
		}
		b := all[i]
		b.n, b.to = b.n+1, e.ObservedAt
		if e.CapturedAt != nil {
			b.longest = max(b.longest, e.CapturedAt.Sub(e.ObservedAt))
		}
		if e.Clock != nil && e.Clock.Proven != nil && !*e.Clock.Proven {
			b.unproven++
		}
		if c.Exam.Rulings[e.Seq].Decision == "accept" {
			b.accepted++
		}
	}
	var out []string
	for _, b := range all {
		text := c.say("entry %d, %s, entered %s later", b.firstEntry.Seq, c.what(b.firstEntry), words.Lasting(b.longest))
		if b.n > 1 {
			text = c.say("%d %s, %s to %s, entered up to %s later", b.n, b.name, c.clock(b.from), c.clock(b.to), words.Lasting(b.longest))
		}
		if b.unproven > 0 {
			text = joined("; ", text, c.say("%d with a clock that was not proven", b.unproven))
		}
		out = append(out, joined("; ", text, c.say("%d of %d accepted", b.accepted, b.n)))
	}
	return out
}

// typed says which readings came by hand, per quantity.
func (c *composer) typed() []string {
	var out []string
	for _, s := range c.Exam.Series {
		var typed []rules.Point
		var by []string
		for _, p := range s.Points {
			if p.Entry.Via != "typed" {
				continue
			}
			typed = append(typed, p)
			if n := c.name(p.Entry.By); !slices.Contains(by, n) {
				by = append(by, n)
			}
		}
		if len(typed) == 0 {
			continue
		}
		when := c.clock(typed[0].Entry.ObservedAt)
		if n := len(typed); n > 1 {
			when = c.say("%s to %s", when, c.clock(typed[n-1].Entry.ObservedAt))
		}
		out = append(out, c.many(len(s.Points), "%[2]d of %[1]d reading of %[3]s, %[4]s, by %[5]s", "%[2]d of %[1]d readings of %[3]s, %[4]s, by %[5]s",
			len(typed), s.Quantity.Label, when, c.cut(strings.Join(by, ", "), 120)))
	}
	return out
}

func (c *composer) breaks() []string {
	var out []string
	to := c.Exam.Assessment.Hold.To // the hold that counts ends too, without harm
	for _, iv := range c.Exam.Holds {
		if to != nil && iv.To.Equal(*to) {
			continue
		}
		for _, b := range c.Exam.Assessment.Hold.Breaks {
			if b.At.Equal(iv.To) {
				out = append(out, c.say("%s, after %s that do not count: %s", c.clock(b.At), words.Lasting(iv.To.Sub(iv.From)), measure.Signs(b.Text.In(c.lang))))
				break
			}
		}
	}
	return out
}

func (c *composer) beyond() []string {
	var out []string
	for _, f := range c.Exam.Faults {
		if !f.Expected {
			out = append(out, c.say("entry %d, %s, more than the procedure expects", f.Entry.Seq, c.what(f.Entry)))
		}
	}
	return out
}

// measured tells each instrument that did not suffice, with the first entry that
// was ruled on for it.
func (c *composer) measured() []string {
	var out []string
	for _, i := range c.Exam.Instruments {
		what := joined(", ", c.cut(i.Code, 24), c.cut(i.Name, 80))
		if e := i.Overdue; e != nil {
			out = append(out, c.say("%s, calibration due %s, used after that, the first time in entry %d (%s)", what, i.Due, e.Seq, c.what(*e)))
		}
		if e := i.Coarse; e != nil {
			out = append(out, c.say("%s, expanded uncertainty %s, less sure than the procedure counts with, the first time in entry %d (%s)",
				what, measure.Signs(i.UncertaintyInWords().In(c.lang)), e.Seq, c.what(*e)))
		}
	}
	return out
}

func (c *composer) leftOut() []string {
	var out []string
	for _, s := range c.Exam.Steps {
		for _, e := range s.Answers {
			if e.Outcome == "not_applicable" {
				out = append(out, c.say("“%s”, not applicable: “%s” (%s, %s)", c.cut(s.Step.Text, 100), c.cut(e.Note, 200), c.name(e.By), c.clock(e.ObservedAt)))
			}
		}
	}
	if n := len(c.Exam.Assessment.Ignored); n > 0 {
		first := c.bySeq[c.Exam.Assessment.Ignored[0]]
		out = append(out, c.many(n, "%d entry observed after the instant of judgement and so not judged, the first entry %d (%s)",
			"%d entries observed after the instant of judgement and so not judged, the first entry %d (%s)", first.Seq, c.what(first)))
	}
	return out
}
