package certificate

import (
	"fmt"
	"strings"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
)

// facts are what stands under the title: what, where, by which procedure, when.
func (c *composer) facts() []Fact {
	approved := "not recorded"
	if c.Procedure.ApprovedBy != "" {
		approved = c.Procedure.ApprovedBy
		if at := c.Procedure.ApprovedAt; at != nil {
			approved += ", " + at.In(c.zone).Format(time.DateOnly)
		}
	}
	return []Fact{
		{"Unit", joined(", ", c.Unit.Tag, "serial "+orNone(c.Unit.Serial))},
		{"Line", orNone(c.Run.Line)},
		{"Work done at", joined(", ", c.Run.Bench, c.Site.Name)},
		{"Run", c.Run.Number.String()},
		{"Procedure", fmt.Sprintf("%s, revision %d", c.proc.Title, c.proc.Revision)},
		{"Procedure approved by", approved},
		{"Built for", fmt.Sprintf("ink %s, make-up %s", orNone(c.Unit.Ink), orNone(c.Unit.Makeup))},
		{"Times are", c.Site.TimeZone + ", UTC" + c.begun.In(c.zone).Format("-07:00")},
		{"Begun", c.full(c.begun)},
		{"Submitted", c.full(c.submitted.SignedAt)},
		{"Released", c.full(c.ReleasedAt)},
		{"Valid until", c.until()},
	}
}

func (c *composer) until() string {
	if c.ValidUntil == nil {
		return "no end set by the procedure"
	}
	return c.full(*c.ValidUntil)
}

func orNone(t string) string {
	if t == "" {
		return "none"
	}
	return t
}

// validity says how long the release stands and what ends it.
func (c *composer) validity() []string {
	ends := "It ends before that by: "
	first := "Valid until " + c.until() + "."
	if c.ValidUntil == nil {
		first, ends = "The procedure sets no end to this release.", "It ends by: "
	}
	out := []string{first}
	voids := append(append([]string(nil), c.proc.VoidedBy...), "a newer release of this unit", "a withdrawal by quality")
	out = append(out, ends+strings.Join(voids, "; ")+". The verify page shows the last two.")
	if c.Supersedes != "" {
		out = append(out, fmt.Sprintf("This release supersedes certificate %s.", c.Supersedes))
	}
	return out
}

// closing is what a reader must know about the paper as such.
func (c *composer) closing() []string {
	return []string{
		fmt.Sprintf("Relates only to the unit named: %s, serial %s.", c.Unit.Tag, orNone(c.Unit.Serial)),
		fmt.Sprintf("The rules judged the attached %s as it stood at %s: releasable. The attached %s is that judgement; "+
			"“settlemark evaluate” prints it again from the logbook.", LogbookName, c.full(c.Logbook.At), AssessmentName),
		"The paper is a copy of the record. It permits nothing beyond it: follow the fluids' safety data sheets, the site's rules and local codes.",
	}
}

func (c *composer) signature(s commissioning.Signature) Signature {
	return Signature{
		Person: string(s.Person), Name: s.Name, Role: string(s.Role), Meaning: s.Meaning, At: c.full(s.SignedAt),
		Method: s.Method, Head: fmt.Sprintf("%x", s.Head), Passkey: s.Passkey,
	}
}

func (c *composer) heading() string {
	v := c.Exam.Assessment.Viscosity
	q := c.quantity(c.proc.Gates.Viscosity.Quantity)
	text := q.Label + ", " + measure.Sign(q.Unit)
	if v.Target != "" {
		text += ". Target " + v.Target
	}
	if v.Lower != "" && v.Upper != "" {
		text += fmt.Sprintf(", band %s to %s", v.Lower, v.Upper)
	}
	if q.Target != nil && len(q.Target.Curve) > 0 {
		text += " at the last reading; the target follows " + strings.ToLower(c.quantity(q.Target.By).Label)
	}
	return text
}
