package templates

import (
	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// Conformity is the decision rule in words, and how probable it is that the
// true value of the newest reading conforms.
type Conformity struct{ Sure, Rule words.Text }

func (v RunView) conformity() Conformity {
	g := v.Exam.Assessment.Viscosity
	q, known := v.Quantity(v.Viscosity())
	if !known || g.Value == "" || g.Lower == "" {
		return Conformity{}
	}
	c := Conformity{Rule: words.Say("%s.", words.Capital(q.DecisionInWords()))}
	if q.Uncertainty == nil {
		return c
	}
	c.Rule = words.Sentences(c.Rule, words.Say("%s.", words.Capital(q.Uncertainty.InWords(measure.Sign(q.Unit)))))
	if p := g.ConformanceProbability; p != nil {
		c.Sure = words.Say("The true value behind %s lies inside %s to %s with a probability of %s.",
			words.Number(short(g.Value)), words.Number(short(g.Lower)), words.Number(short(g.Upper)), commissioning.ProbabilityInWords(*p))
	}
	return c
}
