package measure_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/optimize"

	"settlemark/internal/measure"
)

// BenchmarkFit is the fit of 100 readings, against BFGS of gonum on the same sum
// of squares with its exact gradient, from where the readings begin and end and a
// τ of a third of their span. The second of the pair is the yardstick; ours takes
// at most a quarter of its time.
func BenchmarkFit(b *testing.B) {
	ts, vs := settled(100, 0.02, 1)
	a, err := measure.FitApproach(ts, vs)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("100 readings/fit", func(b *testing.B) {
		for b.Loop() {
			if _, err := measure.FitApproach(ts, vs); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(1./4, "x-at-most")
	})
	b.Run("100 readings/BFGS of gonum", func(b *testing.B) {
		for b.Loop() {
			// It reports a failed line search where the sum cannot fall further.
			result, _ := optimize.Minimize(sumOfSquares(ts, vs), []float64{vs[99], vs[0] - vs[99], math.Log(ts[99] / 3)}, nil, &optimize.BFGS{})
			if math.Abs(result.X[0]-a.C) > 1e-4 {
				b.Fatalf("BFGS ends at %v, the fit at %v", result.X, a)
			}
		}
	})
}

func sumOfSquares(ts, vs []float64) optimize.Problem {
	each := func(x []float64, do func(rest, e, t float64)) {
		for i, t := range ts {
			e := math.Exp(-t * math.Exp(-x[2]))
			do(vs[i]-x[0]-x[1]*e, e, t)
		}
	}
	return optimize.Problem{
		Func: func(x []float64) float64 {
			sum := 0.0
			each(x, func(rest, _, _ float64) { sum += rest * rest })
			return sum
		},
		Grad: func(grad, x []float64) {
			clear(grad)
			rate := math.Exp(-x[2])
			each(x, func(rest, e, t float64) {
				grad[0] -= 2 * rest
				grad[1] -= 2 * rest * e
				grad[2] -= 2 * rest * x[1] * e * t * rate
			})
		},
	}
}
