package measure

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Approach is v(t) = c + a·exp(−t/τ) fitted to readings: how a quantity settles.
// t is in whatever unit the readings had, τ above zero in the same one.
type Approach struct {
	C, A, Tau float64
	fit       Fit     // of c, a, ln τ
	flat      float64 // residual sum of squares about the mean
}

// settling is the shape of an approach in c, a and ln τ: the logarithm keeps τ
// above zero, and its error is nearer to symmetrical.
var settling = Shape{
	Linear: 2, Bent: 1,
	Columns: func(p, xs []float64, columns [][]float64) {
		rate := -math.Exp(-p[0])
		for i, x := range xs {
			columns[0][i] = 1
			columns[1][i] = math.Exp(x * rate)
		}
	},
	Slopes: func(b, p, xs []float64, columns, slopes [][]float64) {
		factor := b[1] * math.Exp(-p[0])
		for i, x := range xs {
			slopes[0][i] = factor * x * columns[1][i]
		}
	},
}

// How τ is searched: from a hundredth of the span of the readings to twenty
// spans, each twice the one before. A best one at either end is a step or a straight
// line, and no approach.
const (
	shortest  = 0.01
	longest   = 20
	searching = 2
)

// FitApproach fits at least five readings in rising order of t: a search over
// ln τ, for each of which c and a are known (variable projection), then Refine.
func FitApproach(ts, vs []float64) (Approach, error) {
	if len(ts) < 5 {
		return Approach{}, ErrNoFit
	}
	first, last := ts[0], ts[len(ts)-1]
	since := make([]float64, len(ts))
	for i, t := range ts {
		since[i] = t - first
	}
	start, flat, ok := searchTau(since, vs)
	if !ok {
		return Approach{}, ErrNoFit
	}
	fit, err := Refine(settling, since, vs, start)
	if err != nil {
		return Approach{}, err
	}
	tau := math.Exp(fit.Params[2])
	if span := last - first; tau < shortest*span || tau > longest*span {
		return Approach{}, ErrNoFit
	}
	return Approach{C: fit.Params[0], A: fit.Params[1], Tau: tau, fit: fit, flat: flat}, nil
}

// student is t of the two-sided 90 % interval.
func (a Approach) student() float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(a.fit.DF)}.Quantile(0.95)
}

// searchTau finds the best c, a and ln τ of the search, and the residual sum of
// squares about the mean. False where the best τ lies at an end.
func searchTau(ts, vs []float64) (start []float64, flat float64, ok bool) {
	n, span := float64(len(ts)), ts[len(ts)-1]
	mean := 0.0
	for _, v := range vs {
		mean += v / n
	}
	for _, v := range vs {
		flat += (v - mean) * (v - mean)
	}
	best, before, steps := 0.0, 0, 0
	for tau := shortest * span; tau <= longest*span; tau *= searching {
		rate, sum, squares, products := -1/tau, 0.0, 0.0, 0.0
		for i, t := range ts {
			e := math.Exp(t * rate)
			sum += e
			squares += e * e
			products += e * (vs[i] - mean)
		}
		if explained := products * products / (squares - sum*sum/n); explained > best {
			a := products / (squares - sum*sum/n)
			best, before = explained, steps
			start = []float64{mean - a*sum/n, a, math.Log(tau)}
		}
		steps++
	}
	return start, flat, before > 0 && before < steps-1
}

// How sure a fit must be before anybody is told of it; common practice, no
// source. An interval of τ wider than a factor of ten each way is no knowledge
// of τ; readings that noise alone would bend so with a chance above 0.001 are noise.
const (
	widestTau  = 10
	byAccident = 0.001
)

// Sure says whether the readings determine the approach: the 90 % interval of τ
// is bounded by widestTau, and the curve explains them better than their mean
// does by an F test of its two more parameters, of which P(F > f) is
// (RSS/RSS₀)^(DF/2).
func (a Approach) Sure() bool {
	chance := math.Pow(a.fit.RSS/a.flat, float64(a.fit.DF)/2)
	return a.student()*a.fit.SD(2) <= math.Log(widestTau) && chance < byAccident
}

// Interval of c, 90 % by Student's t.
func (a Approach) Interval() (low, high float64) {
	half := a.student() * a.fit.SD(0)
	return a.C - half, a.C + half
}

// at is the curve at t after the first reading, and its standard deviation there.
func (a Approach) at(t float64) (v, sd float64) {
	e := math.Exp(-t / a.Tau)
	slope := []float64{1, e, a.A * e * t / a.Tau}
	variance := 0.0
	for i, x := range slope {
		for j, y := range slope {
			variance += x * y * a.fit.Covariance(i, j)
		}
	}
	return a.C + a.A*e, math.Sqrt(max(0, variance))
}

// Entry is when an approach reaches a limit, counted from its first reading.
type Entry struct {
	At       float64
	Earliest float64
	Latest   float64 // +Inf where the readings set no end to it
}

// Enters says when the curve reaches a limit that lies between its beginning and
// c, with a 90 % interval: the instants at which the 90 % interval of the curve
// holds the limit (its two sides reach the limit at Earliest and at Latest).
// False where it never does.
func (a Approach) Enters(limit float64) (Entry, bool) {
	share := (limit - a.C) / a.A
	if !(share > 0) {
		return Entry{}, false
	}
	e := Entry{At: -a.Tau * math.Log(share)}
	student := a.student()
	down := math.Copysign(1, a.A) // a falling curve nears its limit from above
	reached := func(t, side float64) bool {
		v, sd := a.at(t)
		return down*(v-limit)+side*student*sd <= 0
	}
	e.Earliest = a.turn(e.At, -1, func(t float64) bool { return t < 0 || !reached(t, -1) })
	e.Earliest = max(0, e.Earliest)
	e.Latest = a.turn(e.At, 1, func(t float64) bool { return reached(t, 1) })
	return e, true
}

// turn goes from t in steps of a twentieth of τ, forward or back, to where the
// other state begins, and halves the last step until it is exact; +Inf when
// nothing has turned after thirty τ, where nothing is left of the exponential.
func (a Approach) turn(t, way float64, turned func(float64) bool) float64 {
	if turned(t) {
		return t
	}
	step := way * a.Tau / 20
	for range 600 {
		if next := t + step; turned(next) {
			for range 40 {
				if step /= 2; turned(t + step) {
					next = t + step
				} else {
					t += step
				}
			}
			return next
		}
		t += step
	}
	return math.Inf(1)
}
