package templates

import (
	"fmt"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
)

// Conformity is the decision rule in words, and how probable it is that the
// true value of the newest reading conforms.
type Conformity struct{ Sure, Rule string }

func (v RunView) conformity() Conformity {
	g := v.Exam.Assessment.Viscosity
	q, known := v.Quantity(v.Viscosity())
	if !known || g.Value == "" || g.Lower == "" {
		return Conformity{}
	}
	c := Conformity{Rule: sentenceCase(q.DecisionInWords().String()) + "."}
	if q.Uncertainty == nil {
		return c
	}
	c.Rule += " " + sentenceCase(q.Uncertainty.InWords(measure.Sign(q.Unit)).String()) + "."
	if p := g.ConformanceProbability; p != nil {
		c.Sure = fmt.Sprintf("The true value behind %s lies inside %s to %s with a probability of %s.", short(g.Value), short(g.Lower), short(g.Upper), commissioning.ProbabilityInWords(*p))
	}
	return c
}
