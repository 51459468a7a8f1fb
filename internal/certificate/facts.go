package certificate

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
)

// facts are what stands under the title: what, where, by which procedure, when.
func (c *composer) facts() []Fact {
	approved := c.say("not recorded")
	if c.Procedure.ApprovedBy != "" {
		approved = c.Procedure.ApprovedBy
		if at := c.Procedure.ApprovedAt; at != nil {
			approved += ", " + at.In(c.zone).Format(time.DateOnly)
		}
	}
	return []Fact{
		{c.say("Unit"), c.say("%s, serial %s", c.Unit.Tag, c.orNone(c.Unit.Serial))},
		{c.say("Line"), c.orNone(c.Run.Line)},
		{c.say("Work done at"), joined(", ", c.Run.Bench, c.Site.Name)},
		{c.say("Run"), c.Run.Number.String()},
		{c.say("Procedure"), c.say("%s, revision %d", c.proc.Title, c.proc.Revision)},
		{c.say("Procedure approved by"), approved},
		{c.say("Built for"), c.say("ink %s, make-up %s", c.orNone(c.Unit.Ink), c.orNone(c.Unit.Makeup))},
		{c.say("Times are"), c.Site.TimeZone + ", UTC" + c.begun.In(c.zone).Format("-07:00")},
		{c.say("Begun"), c.full(c.begun)},
		{c.say("Submitted"), c.full(c.submitted.SignedAt)},
		{c.say("Released"), c.full(c.ReleasedAt)},
		{c.say("Valid until"), c.until()},
	}
}

func (c *composer) until() string {
	if c.ValidUntil == nil {
		return c.say("no end set by the procedure")
	}
	return c.full(*c.ValidUntil)
}

func (c *composer) orNone(t string) string {
	if t == "" {
		return c.say("none")
	}
	return t
}

// validity says how long the release stands and what ends it.
func (c *composer) validity() []string {
	voids := append(slices.Clone(c.proc.VoidedBy), c.say("a newer release of this unit"), c.say("a withdrawal by quality"))
	what := strings.Join(voids, "; ")
	out := []string{c.say("The procedure sets no end to this release."), c.say("It ends by: %s.", what)}
	if c.ValidUntil != nil {
		out = []string{c.say("Valid until %s.", c.until()), c.say("It ends before that by: %s.", what)}
	}
	out[1] += " " + c.say("The verify page says whether it still stands: newer releases, withdrawals and what was recorded at the unit show there.")
	if c.Supersedes != "" {
		out = append(out, c.say("This release supersedes certificate %s.", c.Supersedes))
	}
	return out
}

// closing is what a reader must know about the paper as such.
func (c *composer) closing() []string {
	return []string{
		c.say("Relates only to the unit named: %s, serial %s.", c.Unit.Tag, c.orNone(c.Unit.Serial)),
		c.say("The rules judged the attached %s as it stood at %s: releasable. The attached %s is that judgement; "+
			"“settlemark evaluate” prints it again from the logbook.", LogbookName, c.full(c.Logbook.At), AssessmentName),
		c.say("The paper is a copy of the record. It permits nothing beyond it: follow the fluids' safety data sheets, the site's rules and local codes."),
	}
}

func (c *composer) signature(s commissioning.Signature) Signature {
	out := Signature{
		Person: string(s.Person), Name: s.Name, Role: string(s.Role), Meaning: s.Meaning, At: c.full(s.SignedAt),
		Method: s.Method, Head: fmt.Sprintf("%x", s.Head), Passkey: s.Passkey,
	}
	said := out.saidIn(c.lang)
	out.Said = &said
	return out
}

func (c *composer) heading() string {
	v := c.Exam.Assessment.Viscosity
	q := c.quantity(c.proc.Gates.Viscosity.Quantity)
	text, band := q.Label+", "+measure.Sign(q.Unit), ""
	if v.Lower != "" && v.Upper != "" {
		band = c.say("band %s to %s", c.number(v.Lower), c.number(v.Upper))
	}
	if v.Target != "" {
		text = joined(". ", text, joined(", ", c.say("Target %s", c.number(v.Target)), band))
	} else {
		text = joined(". ", text, band)
	}
	if q.Target != nil && len(q.Target.Curve) > 0 {
		text = c.say("%s at the last reading; the target follows %s", text, c.lower(c.quantity(q.Target.By).Label))
	}
	return text
}
