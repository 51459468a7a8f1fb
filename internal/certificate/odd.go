package certificate

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// Kinds of what is out of the ordinary, in the order in which it is printed.
const (
	oddReturned  = "Sent back"
	oddSample    = "Sample"
	oddRuling    = "Ruling"
	oddCorrected = "Corrected"
	oddLate      = "Late"
	oddTyped     = "Typed"
	oddHold      = "Hold broken"
	oddFault     = "Fault"
	oddMeasured  = "Instrument"
	oddLeftOut   = "Left out"
)

// absences are the words for each kind when there was none.
var absences = []Fact{
	{oddReturned, "sent back"},
	{oddSample, "sample read differently"},
	{oddRuling, "rulings"},
	{oddCorrected, "corrections"},
	{oddLate, "late entries"},
	{oddTyped, "typed readings"},
	{oddHold, "breaks of the hold"},
	{oddFault, "faults beyond the procedure"},
	{oddMeasured, "instruments overdue or too unsure"},
	{oddLeftOut, "steps or entries left out"},
}

// most of one kind are printed one by one; a line counts the rest, which stand
// in the attached logbook as all entries do.
const most = 12

// odd gathers everything out of the ordinary.
func (c *composer) odd() []Remark {
	var out []Remark
	for _, group := range [][]Remark{
		c.returned(), c.mismatch(), c.rulings(), c.corrections(), c.late(), c.typed(), c.breaks(), c.beyond(), c.measured(), c.leftOut(),
	} {
		if n := len(group) - most; n > 1 {
			where := "each in the attached " + LogbookName
			if group[0].Kind == oddReturned {
				where = "each in the run's record"
			}
			rest := Remark{group[0].Kind, fmt.Sprintf("and %d more, %s", n, where)}
			group = append(group[:most:most], rest)
		}
		out = append(out, group...)
	}
	return out
}

// ordinary names what there was none of. Of instruments it speaks only where the
// record names some.
func (c *composer) ordinary(odd []Remark) string {
	var none []string
	for _, a := range absences {
		if a.Label == oddMeasured && len(c.Exam.Instruments) == 0 {
			continue
		}
		if !slices.ContainsFunc(odd, func(r Remark) bool { return r.Kind == a.Label }) {
			none = append(none, a.Text)
		}
	}
	if len(none) == 0 {
		return ""
	}
	return "None: " + strings.Join(none, ", ") + "."
}

func (c *composer) returned() []Remark {
	var out []Remark
	for _, r := range c.Returns {
		out = append(out, Remark{oddReturned, fmt.Sprintf("Round %d by %s, %s: “%s”", r.Round, r.By, c.full(r.At), cut(r.Reason, 400))})
	}
	return out
}

func (c *composer) mismatch() []Remark {
	s := c.countersigned
	if s.Reading == "" || s.Agrees {
		return nil
	}
	return []Remark{{oddSample, fmt.Sprintf("%s read “%s”, which differs from the engineer's reading. Released because: “%s”",
		s.Name, cut(s.Reading, 80), cut(s.Mismatch, 400))}}
}

func (c *composer) rulings() []Remark {
	var out []Remark
	for _, e := range c.Logbook.Entries {
		if e.Kind != commissioning.KindDisposition {
			continue
		}
		verb := "accepted"
		if e.Decision == "reject" {
			verb = "rejected"
		}
		text := fmt.Sprintf("%s %s entry %d (%s), %s: “%s”", c.name(e.By), verb, e.Ref, c.what(c.bySeq[e.Ref]), c.clock(e.ObservedAt), cut(e.Reason, 400))
		if now, ok := c.Exam.Rulings[e.Ref]; ok && now.Seq != e.Seq {
			text += ", overruled later"
		}
		out = append(out, Remark{oddRuling, text})
	}
	return out
}

func (c *composer) corrections() []Remark {
	var out []Remark
	for _, e := range c.Logbook.Entries {
		if e.Kind != commissioning.KindCorrection {
			continue
		}
		text := fmt.Sprintf("%s struck entry %d (%s), %s: “%s”", c.name(e.By), e.Strikes, c.what(c.struck(e.Strikes)), c.clock(e.ObservedAt), cut(e.Reason, 300))
		if e.Replacement != nil {
			text += "; now " + c.what(*e.Replacement)
		}
		out = append(out, Remark{oddCorrected, text})
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
func (c *composer) late() []Remark {
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
		name := plain(string(e.Kind)) + "s"
		if e.Kind == commissioning.KindReading {
			name = "readings of " + c.quantity(e.Quantity).Label
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
	var out []Remark
	for _, b := range all {
		text := fmt.Sprintf("entry %d, %s, entered %s later", b.firstEntry.Seq, c.what(b.firstEntry), span(b.longest))
		if b.n > 1 {
			text = fmt.Sprintf("%d %s, %s to %s, entered up to %s later", b.n, b.name, c.clock(b.from), c.clock(b.to), span(b.longest))
		}
		if b.unproven > 0 {
			text += fmt.Sprintf("; %d with a clock that was not proven", b.unproven)
		}
		out = append(out, Remark{oddLate, text + fmt.Sprintf("; %d of %d accepted", b.accepted, b.n)})
	}
	return out
}

// typed says which readings came by hand, per quantity.
func (c *composer) typed() []Remark {
	var out []Remark
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
			when += " to " + c.clock(typed[n-1].Entry.ObservedAt)
		}
		out = append(out, Remark{oddTyped, fmt.Sprintf("%d of %s of %s, %s, by %s", len(typed), words.Count(len(s.Points), "reading"), s.Quantity.Label,
			when, cut(strings.Join(by, ", "), 120))})
	}
	return out
}

func (c *composer) breaks() []Remark {
	var out []Remark
	to := c.Exam.Assessment.Hold.To // the hold that counts ends too, without harm
	for _, iv := range c.Exam.Holds {
		if to != nil && iv.To.Equal(*to) {
			continue
		}
		for _, b := range c.Exam.Assessment.Hold.Breaks {
			if b.At.Equal(iv.To) {
				out = append(out, Remark{oddHold, fmt.Sprintf("%s, after %s that do not count: %s", c.clock(b.At), span(iv.To.Sub(iv.From)), measure.Signs(b.Text))})
				break
			}
		}
	}
	return out
}

func (c *composer) beyond() []Remark {
	var out []Remark
	for _, f := range c.Exam.Faults {
		if !f.Expected {
			out = append(out, Remark{oddFault, fmt.Sprintf("entry %d, %s, more than the procedure expects", f.Entry.Seq, c.what(f.Entry))})
		}
	}
	return out
}

// measured tells each instrument that did not suffice, with the first entry that
// was ruled on for it.
func (c *composer) measured() []Remark {
	var out []Remark
	for _, i := range c.Exam.Instruments {
		what := joined(", ", cut(i.Code, 24), cut(i.Name, 80))
		if e := i.Overdue; e != nil {
			out = append(out, Remark{oddMeasured, fmt.Sprintf("%s, calibration due %s, used after that, the first time in entry %d (%s)", what, i.Due, e.Seq, c.what(*e))})
		}
		if e := i.Coarse; e != nil {
			out = append(out, Remark{oddMeasured, fmt.Sprintf("%s, expanded uncertainty %s, less sure than the procedure counts with, the first time in entry %d (%s)",
				what, measure.Signs(i.UncertaintyInWords()), e.Seq, c.what(*e))})
		}
	}
	return out
}

func (c *composer) leftOut() []Remark {
	var out []Remark
	for _, s := range c.Exam.Steps {
		for _, e := range s.Answers {
			if e.Outcome == "not_applicable" {
				out = append(out, Remark{oddLeftOut, fmt.Sprintf("“%s”, not applicable: “%s” (%s, %s)", cut(s.Step.Text, 100), cut(e.Note, 200), c.name(e.By), c.clock(e.ObservedAt))})
			}
		}
	}
	if n := len(c.Exam.Assessment.Ignored); n > 0 {
		first := c.bySeq[c.Exam.Assessment.Ignored[0]]
		text := fmt.Sprintf("%s observed after the instant of judgement and so not judged, the first entry %d (%s)",
			entries(n), first.Seq, c.what(first))
		out = append(out, Remark{oddLeftOut, text})
	}
	return out
}
