package measure

import (
	"errors"
	"math"
)

// ErrNoFit says that the points do not determine the curve: the search ran
// away, did not settle, or two parameters cannot be told apart.
var ErrNoFit = errors.New("no fit")

// Shape is a curve y = Σ bⱼ·φⱼ(x; p): linear in b, not in p. A parameter vector
// holds b first, then p.
type Shape struct {
	Linear, Bent int // how many b, how many p

	// Columns writes φⱼ(xᵢ; p) into columns[j][i].
	Columns func(p, xs []float64, columns [][]float64)

	// Slopes writes ∂y/∂pₖ at xᵢ into slopes[k][i]; columns are filled already.
	Slopes func(b, p, xs []float64, columns, slopes [][]float64)
}

// Fit is a curve fitted by least squares.
type Fit struct {
	Params []float64
	RSS    float64 // residual sum of squares
	DF     int     // degrees of freedom: points less parameters

	covariance [][]float64
}

// Covariance of two parameters: s²(JᵀJ)⁻¹ with s² = RSS/DF.
func (f Fit) Covariance(i, j int) float64 { return f.covariance[i][j] }

// SD is the standard deviation of a parameter.
func (f Fit) SD(i int) float64 { return math.Sqrt(f.covariance[i][i]) }

// How a refinement ends: when a whole step moves the curve by less than still
// of the length of y, or without a fit after so many steps. A column of which
// less than apart is left beside the others cannot be told from them.
const (
	still    = 1e-13
	maxSteps = 500
	apart    = 1e-9
)

// Refine goes from a start to the nearest least-squares fit by Gauss–Newton
// steps of all parameters; after each step the linear ones are solved for anew,
// since they are known once the others are (variable projection; Golub and
// Pereyra 1973). A step that does not lower the residuals is damped (Marquardt
// 1963, scaled by the length of each column). The last step is undamped.
func Refine(shape Shape, xs, ys, start []float64) (Fit, error) {
	r := newRefinement(shape, xs, ys, start)
	damping, rss := 0.0, r.residuals(r.params, r.rest)
	for range maxSteps {
		r.slopes()
		moved, ok := r.solve(r.columns, r.rest, damping, r.step)
		if ok && damping == 0 && moved <= still*r.length {
			return r.fit()
		}
		next := math.Inf(1)
		if ok {
			next = r.try()
		}
		switch {
		case next <= rss*(1+1e-12): // rounding at the bottom is no reason to turn back
			r.params, r.trial = r.trial, r.params
			r.rest, r.spare = r.spare, r.rest
			rss = next
			if damping /= 10; damping < 1e-8 {
				damping = 0
			}
		case damping > 1e12:
			return Fit{}, ErrNoFit
		default:
			damping = max(1e-6, damping*10)
			r.residuals(r.params, r.rest) // the columns are those of the trial
		}
	}
	return Fit{}, ErrNoFit
}

// refinement is the state of Refine, with room that every step uses again.
type refinement struct {
	shape  Shape
	xs, ys []float64
	length float64 // of y

	params, trial, step []float64
	rest, spare         []float64 // residuals of params, of trial
	columns, work       [][]float64
	right               []float64
	triangle            [][]float64
}

func newRefinement(shape Shape, xs, ys, start []float64) *refinement {
	n, m := len(xs), shape.Linear+shape.Bent
	return &refinement{
		shape: shape, xs: xs, ys: ys, length: norm(ys),
		params: append([]float64(nil), start...), trial: make([]float64, m), step: make([]float64, m),
		rest: make([]float64, n), spare: make([]float64, n),
		columns: table(m, n), work: table(m, n+m), right: make([]float64, n+m), triangle: table(m, m),
	}
}

// try takes the step into trial, and gives its residual sum of squares.
func (r *refinement) try() float64 {
	for i := range r.trial {
		r.trial[i] = r.params[i] + r.step[i]
	}
	linear := r.shape.Linear
	r.shape.Columns(r.trial[linear:], r.xs, r.columns[:linear])
	if _, ok := r.solve(r.columns[:linear], r.ys, 0, r.trial[:linear]); !ok {
		return math.Inf(1)
	}
	return r.sumUp(r.trial, r.spare)
}

// residuals fills the columns of the shape at params and gives the sum of squares.
func (r *refinement) residuals(params, out []float64) float64 {
	r.shape.Columns(params[r.shape.Linear:], r.xs, r.columns[:r.shape.Linear])
	return r.sumUp(params, out)
}

func (r *refinement) sumUp(params, out []float64) float64 {
	sum := 0.0
	for i, y := range r.ys {
		for j, factor := range params[:r.shape.Linear] {
			y -= factor * r.columns[j][i]
		}
		out[i] = y
		sum += y * y
	}
	return sum
}

// slopes completes the Jacobian beside the columns of the params in hand.
func (r *refinement) slopes() {
	linear := r.shape.Linear
	b, p := r.params[:linear], r.params[linear:]
	r.shape.Slopes(b, p, r.xs, r.columns[:linear], r.columns[linear:])
}

// solve brings columns·out as near to right as it goes, by a QR decomposition
// (modified Gram–Schmidt) of the columns above the damping, and gives the length
// of columns·out. It is false where the columns cannot be told apart or have
// left the range of numbers.
func (r *refinement) solve(columns [][]float64, right []float64, damping float64, out []float64) (length float64, ok bool) {
	n := len(right)
	rows := n
	if damping > 0 {
		rows += len(columns)
	}
	rest := r.right[:rows]
	copy(rest, right)
	clear(rest[n:])
	for k, column := range columns {
		q := r.work[k][:rows]
		copy(q, column)
		if damping > 0 {
			clear(q[n:])
			q[n+k] = math.Sqrt(damping) * norm(column)
		}
	}
	for k, column := range columns {
		q := r.work[k][:rows]
		left := norm(q)
		if whole := norm(column); !(left > apart*whole) || math.IsInf(left, 0) {
			return 0, false
		}
		for i := range q {
			q[i] /= left
		}
		r.triangle[k][k] = left
		for j := k + 1; j < len(columns); j++ {
			r.triangle[k][j] = takeOff(r.work[j][:rows], q)
		}
		out[k] = takeOff(rest, q)
		length = math.Hypot(length, out[k])
	}
	backSubstitute(r.triangle, out)
	return length, !math.IsNaN(length)
}

// fit gives the result, with the covariance from the last undamped triangle.
func (r *refinement) fit() (Fit, error) {
	m := len(r.params)
	f := Fit{Params: r.params, DF: len(r.xs) - m, RSS: dot(r.rest, r.rest), covariance: table(m, m)}
	if f.DF < 1 {
		return Fit{}, ErrNoFit
	}
	inverse := table(m, m) // its row j is column j of R⁻¹
	for j, column := range inverse {
		column[j] = 1
		backSubstitute(r.triangle, column)
	}
	for i := range m {
		for j := range m {
			for k := range m {
				f.covariance[i][j] += inverse[k][i] * inverse[k][j] * f.RSS / float64(f.DF)
			}
		}
	}
	return f, nil
}

// backSubstitute solves R·x = z in place.
func backSubstitute(triangle [][]float64, z []float64) {
	for k := len(z) - 1; k >= 0; k-- {
		for j := k + 1; j < len(z); j++ {
			z[k] -= triangle[k][j] * z[j]
		}
		z[k] /= triangle[k][k]
	}
}

// takeOff removes from v its part along the unit vector q, and gives its size.
func takeOff(v, q []float64) float64 {
	part := dot(v, q)
	for i := range v {
		v[i] -= part * q[i]
	}
	return part
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

func norm(v []float64) float64 { return math.Sqrt(dot(v, v)) }

func table(rows, columns int) [][]float64 {
	room := make([]float64, rows*columns)
	out := make([][]float64, rows)
	for i := range out {
		out[i] = room[i*columns : (i+1)*columns : (i+1)*columns]
	}
	return out
}
