package measure

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Trend is how readings drift, without a curve in mind: the Mann–Kendall test
// (Mann 1945, Kendall 1975) and Sen's slope (Sen 1968), as in Gilbert 1987,
// chapter 16, and the US EPA's Unified Guidance (2009), chapter 17.
//
// Both take readings as independent of one another; readings close together
// are not, so a drift is seen somewhat too readily.
type Trend struct {
	N        int
	S        int     // rises less falls among all pairs of readings
	Variance float64 // of S without a trend, ties corrected
	Z        float64 // normal deviate of S, continuity corrected
	Chance   float64 // of an S at least so far from 0 to that side, without a trend
	Slope    float64 // median slope of all pairs, per unit of t

	slopes []float64 // sorted
}

// exactUpTo is the most readings for which the chance is counted out; above, the
// normal approximation serves (Gilbert's table ends there).
const exactUpTo = 10

// FindTrend compares all pairs of readings; no two have the same t.
func FindTrend(ts, vs []float64) Trend {
	tr := Trend{N: len(vs)}
	for i := range vs {
		for j := i + 1; j < len(vs); j++ {
			tr.S += cmp.Compare(vs[j], vs[i])
			tr.slopes = append(tr.slopes, (vs[j]-vs[i])/(ts[j]-ts[i]))
		}
	}
	slices.Sort(tr.slopes)
	ties := tiesOf(vs)
	tr.Variance = variance(tr.N, ties)
	if tr.S != 0 {
		tr.Z = (float64(tr.S) - math.Copysign(1, float64(tr.S))) / math.Sqrt(tr.Variance)
	}
	if tr.Chance = tail(math.Abs(tr.Z)); tr.N <= exactUpTo {
		tr.Chance = exactChance(tr.N, ties, max(tr.S, -tr.S))
	}
	if len(tr.slopes) > 0 {
		tr.Slope = middle(tr.slopes)
	}
	return tr
}

// tiesOf is how often each value occurs.
func tiesOf(vs []float64) []int {
	seen := map[float64]int{}
	for _, v := range vs {
		seen[v]++
	}
	var counts []int
	for _, n := range seen {
		counts = append(counts, n)
	}
	slices.Sort(counts)
	return counts
}

// variance of S: [n(n−1)(2n+5) − Σ t(t−1)(2t+5)] / 18.
func variance(n int, ties []int) float64 {
	term := func(n int) float64 { return float64(n) * float64(n-1) * float64(2*n+5) }
	v := term(n)
	for _, t := range ties {
		v -= term(t)
	}
	return v / 18
}

// exactChance is P(S ≥ s) when every order of the values is as likely. The
// orders with k falls are the coefficient of qᵏ in [n]!q / Π [t]!q, t the ties
// (the Gaussian multinomial); S is the untied pairs less two for each fall.
func exactChance(n int, ties []int, s int) float64 {
	orders, pairs := []float64{1}, n*(n-1)/2
	for i := 2; i <= n; i++ {
		orders = timesRun(orders, i)
	}
	for _, t := range ties {
		pairs -= t * (t - 1) / 2
		for i := 2; i <= t; i++ {
			orders = overRun(orders, i)
		}
	}
	as, all := 0.0, 0.0
	for falls, count := range orders {
		all += count
		if pairs-2*falls >= s {
			as += count
		}
	}
	return as / all
}

// timesRun multiplies a polynomial by 1 + q + … + q^(m−1).
func timesRun(p []float64, m int) []float64 {
	out := make([]float64, len(p)+m-1)
	for i, x := range p {
		for k := range m {
			out[i+k] += x
		}
	}
	return out
}

// overRun divides a polynomial by 1 + q + … + q^(m−1), which divides it.
func overRun(p []float64, m int) []float64 {
	out := make([]float64, len(p)-m+1)
	for i := range out {
		out[i] = p[i]
		for k := 1; k < m && k <= i; k++ {
			out[i] -= out[i-k]
		}
	}
	return out
}

// Between is the interval of the slope at a level such as 0.9: the ordered
// slopes at (N′ ∓ z·√Var)/2, with interpolation between neighbours (Gilbert
// 1987, section 16.5). False where there are too few for it.
func (tr Trend) Between(level float64) (low, high float64, ok bool) {
	z := distuv.UnitNormal.Quantile((1 + level) / 2)
	half, count := z*math.Sqrt(tr.Variance), float64(len(tr.slopes))
	lower, upper := (count-half)/2, (count+half)/2+1 // counted from 1
	if lower < 1 || upper > count {
		return 0, 0, false
	}
	return rankAt(tr.slopes, lower), rankAt(tr.slopes, upper), true
}

// rankAt is the value at a rank counted from 1, between neighbours linear.
func rankAt(sorted []float64, rank float64) float64 {
	below, share := math.Modf(rank)
	i := int(below) - 1
	if share == 0 {
		return sorted[i]
	}
	return sorted[i] + share*(sorted[i+1]-sorted[i])
}

func middle(sorted []float64) float64 { return rankAt(sorted, float64(len(sorted)+1)/2) }

// Decides says whether so many readings could show a drift at all: whether all
// of them in one order has a chance below the given one.
func Decides(n int, chance float64) bool {
	return n > 1 && exactChance(min(n, exactUpTo), nil, min(n, exactUpTo)*(min(n, exactUpTo)-1)/2) < chance
}

// Individuals is the individuals and moving-range view of readings (NIST/SEMATECH
// e-Handbook of Statistical Methods, section 6.3.2.2).
type Individuals struct {
	N            int
	Mean         float64
	MeanRange    float64 // of the ranges between neighbours
	Ranges       int     // how many there are
	Lower, Upper float64 // mean ∓ 3·MeanRange/d2
	Outside      int     // readings beyond them
	UpperRange   float64 // D4·MeanRange
}

// d2 and D4 of ranges of two, as the tables print them; 2/√π to four digits.
const (
	d2     = 1.128
	upperD = 3.267
)

// FindIndividuals takes readings in rising order of t. A range does not cross a
// gap: neighbours farther apart than gap have none. Without a range the limits
// are the mean.
func FindIndividuals(ts, vs []float64, gap float64) Individuals {
	out := Individuals{N: len(vs)}
	for i, v := range vs {
		out.Mean += v / float64(len(vs))
		if i > 0 && ts[i]-ts[i-1] <= gap {
			out.MeanRange += math.Abs(v - vs[i-1])
			out.Ranges++
		}
	}
	if out.Ranges > 0 {
		out.MeanRange /= float64(out.Ranges)
	}
	out.Lower, out.Upper = out.Mean-3*out.MeanRange/d2, out.Mean+3*out.MeanRange/d2
	out.UpperRange = upperD * out.MeanRange
	for _, v := range vs {
		if !(out.Lower <= v && v <= out.Upper) {
			out.Outside++
		}
	}
	return out
}
