package measure_test

import (
	"math"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"settlemark/internal/measure"
)

// process is how true values lie before anything is measured, inside or outside
// limits, and what is accepted by a reading of standard uncertainty u.
type process struct {
	prior            interface{ Prob(float64) float64 }
	from, to         float64 // nothing lies beyond
	limits, accepted measure.Limits
	u                string
}

// accepts is the chance that a reading of x falls where it is accepted. Reading
// and true value change places without harm, since the error is symmetric, so
// it is our conformance probability held against the acceptance limits.
func (p process) accepts(x float64) float64 {
	return measure.Conformance(p.accepted, exactly(x), measure.Must(p.u))
}

func exactly(x float64) measure.Decimal {
	return measure.Must(strconv.FormatFloat(x, 'f', 14, 64))
}

// over integrates the prior times f. The limits are where it has its corners.
func (p process) over(from, to float64, f func(x float64) float64) float64 {
	const pieces, nodes = 8, 24
	sum, width := 0.0, (to-from)/pieces
	for i := range pieces {
		a := from + float64(i)*width
		sum += quad.Fixed(func(x float64) float64 { return p.prior.Prob(x) * f(x) }, a, a+width, nodes, nil, 0)
	}
	return sum
}

// risks are JCGM 106:2012, 9: the chance to accept what lies outside, to reject
// what lies inside, and to lie outside at all.
func (p process) risks() (consumer, producer, outside float64) {
	lower, upper := max(p.from, p.limits.Lower.Float()), p.limits.Upper.Float()
	consumer = p.over(p.from, lower, p.accepts) + p.over(upper, p.to, p.accepts)
	producer = p.over(lower, upper, func(x float64) float64 { return 1 - p.accepts(x) })
	one := func(float64) float64 { return 1 }
	return consumer, producer, p.over(p.from, lower, one) + p.over(upper, p.to, one)
}

// Resistors of 1500 Ω with tolerance 0.2 Ω, made with u0 = 0.12 Ω and measured
// with 0.04 Ω; accepted within 0.18 Ω or within the tolerance itself. Inputs of
// the example in JCGM 106:2012 as a public script has it (secondary); numbers
// computed again apart from this program.
//
// Ball bearings, JCGM 106:2012, 9.5.4, as in sandialabs/suncal (d44c2cc12a76,
// doc/API Examples/Risk - Ball Bearing.ipynb): a departure that is gamma
// distributed (shape 4, scale 1/4 µm), at most 2 µm, measured with 0.25 µm.
func TestGlobalRisk(t *testing.T) {
	resistor := process{
		prior: distuv.Normal{Mu: 1500, Sigma: 0.12}, from: 1500 - 12*0.12, to: 1500 + 12*0.12,
		limits: measure.Within(measure.Must("1499.80"), measure.Must("1500.20")), u: "0.04",
	}
	bearing := process{
		prior: distuv.Gamma{Alpha: 4, Beta: 4}, from: 0, to: 12,
		limits: measure.Within(measure.Must("-"+far), measure.Must("2")), u: "0.25",
	}
	for _, c := range []struct {
		name                              string
		process                           process
		guard                             string
		consumer, producer, nonconforming float64
	}{
		{"resistors, guarded by 0.02 Ω", resistor, "0.02", 0.0098783, 0.0690265, 1 - 0.9044193},
		{"resistors, simple acceptance", resistor, "0", 0.0189422, 0.0372078, 1 - 0.9044193},
		{"ball bearings, simple acceptance", bearing, "0", 0.0080191, 0.0174446, 0.0423801},
		{"ball bearings, guarded for a risk of 0.1 %", bearing, "0.3281712", 0.001, 0.0754939, 0.0423801},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := c.process
			p.accepted = p.limits.Guarded(measure.Must(c.guard))
			consumer, producer, outside := p.risks()
			for what, pair := range map[string][2]float64{
				"consumer's risk": {consumer, c.consumer}, "producer's risk": {producer, c.producer}, "out of tolerance": {outside, c.nonconforming},
			} {
				if math.Abs(pair[0]-pair[1]) > 6e-8 {
					t.Errorf("%s %.9f, want %.7f", what, pair[0], pair[1])
				}
			}
		})
	}
}

// False acceptance by simple acceptance at limits ±1: a normal process of which so
// many percent lie inside, measured with a quarter of its own spread. table is
// that of the draft of RP-19 as in sandialabs/suncal, test/test_risk.py, good to
// six digits; fine was integrated anew with 30 digits apart from this program.
func TestFalseAccept(t *testing.T) {
	for _, c := range []struct{ inside, table, fine float64 }{
		{60, 4.83860326, 4.838603208},
		{70, 3.92234109, 3.922341071},
		{80, 2.85583037, 2.855830621},
		{90, 1.59995312, 1.59995353},
		{95, 0.87100925, 0.8710101881},
		{99, 0.19991684, 0.1999169629},
	} {
		t.Run(strconv.FormatFloat(c.inside, 'f', -1, 64)+" % in tolerance", func(t *testing.T) {
			sigma := 1 / distuv.UnitNormal.Quantile((1+c.inside/100)/2)
			limits := measure.Within(measure.Must("-1"), measure.Must("1"))
			p := process{
				prior: distuv.Normal{Sigma: sigma}, from: -1 - 12*sigma, to: 1 + 12*sigma,
				limits: limits, accepted: limits, u: exactly(sigma / 4).String(),
			}
			consumer, _, _ := p.risks()
			if got := 100 * consumer; math.Abs(got-c.table) > 2e-6 || math.Abs(got-c.fine) > 1e-8 {
				t.Errorf("%.9f %%, want %.8f %% and %.9f %%", got, c.table, c.fine)
			}
		})
	}
}
