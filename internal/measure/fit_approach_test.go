package measure_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"settlemark/internal/measure"
)

// settled gives readings every 180 s of 4.51 + 1.2·exp(−t/1510), with noise.
func settled(n int, noise float64, seed uint64) (ts, vs []float64) {
	random := rand.New(rand.NewPCG(seed, 9))
	for i := range n {
		t := 180 * float64(i)
		ts = append(ts, t)
		vs = append(vs, 4.51+1.2*math.Exp(-t/1510)+noise*random.NormFloat64())
	}
	return ts, vs
}

func TestFitApproach(t *testing.T) {
	t.Run("exact readings give back the curve and the instant", func(t *testing.T) {
		ts, vs := settled(8, 0, 1)
		a, err := measure.FitApproach(ts, vs)
		if err != nil || !a.Sure() {
			t.Fatal(err, a.Sure())
		}
		if math.Abs(a.C-4.51) > 1e-9 || math.Abs(a.A-1.2) > 1e-9 || math.Abs(a.Tau-1510) > 1e-5 {
			t.Errorf("%+v", a)
		}
		// 4.51 + 1.2·exp(−t/1510) = 4.95 at t = 1510·ln(1.2/0.44), by hand.
		if e, ok := a.Enters(4.95); !ok || math.Abs(e.At-1510*math.Log(1.2/0.44)) > 1e-4 || e.Latest-e.Earliest > 0.01 {
			t.Errorf("%+v %v", e, ok)
		}
		if e, ok := a.Enters(4.5); ok {
			t.Errorf("a limit beyond the asymptote is reached at %+v", e)
		}
	})
	t.Run("the time of the first reading moves nothing but the origin", func(t *testing.T) {
		ts, vs := settled(12, 0.01, 2)
		before, _ := measure.FitApproach(ts, vs)
		for i := range ts {
			ts[i] += 86400
		}
		after, err := measure.FitApproach(ts, vs)
		if err != nil || before.C != after.C || before.Tau != after.Tau {
			t.Errorf("%+v %+v %v", before, after, err)
		}
	})
	t.Run("five readings are the fewest", func(t *testing.T) {
		ts, vs := settled(4, 0, 1)
		if _, err := measure.FitApproach(ts, vs); err == nil {
			t.Error("four will do")
		}
	})
}

// About nine in ten intervals of 90 % hold the truth. With 2000 trials the
// count scatters by 0.7 % (binomial); the fit is only locally linear, so 2.5 % are allowed.
func TestIntervalsCover(t *testing.T) {
	const trials = 2000
	truth := 1510 * math.Log(1.2/0.44)
	asymptote, instant, sure := 0, 0, 0
	for seed := range uint64(trials) {
		ts, vs := settled(20, 0.02, seed)
		a, err := measure.FitApproach(ts, vs)
		if err != nil || !a.Sure() {
			continue
		}
		sure++
		if low, high := a.Interval(); low <= 4.51 && 4.51 <= high {
			asymptote++
		}
		if e, ok := a.Enters(4.95); ok && e.Earliest <= truth && truth <= e.Latest {
			instant++
		}
	}
	share := func(n int) float64 { return float64(n) / float64(sure) }
	t.Logf("of %d fits the interval of the asymptote holds it in %.1f %%, that of the instant in %.1f %%", sure, 100*share(asymptote), 100*share(instant))
	if sure < trials*9/10 || math.Abs(share(asymptote)-0.9) > 0.025 || math.Abs(share(instant)-0.9) > 0.025 {
		t.Errorf("%d sure, %.3f and %.3f", sure, share(asymptote), share(instant))
	}
}

// What determines no approach never gives a time that sounds certain.
func TestDegenerate(t *testing.T) {
	line := func(n int, f func(i int) float64) (ts, vs []float64) {
		for i := range n {
			ts, vs = append(ts, 180*float64(i)), append(vs, f(i))
		}
		return ts, vs
	}
	for name, f := range map[string]func(i int) float64{
		"constant":                func(int) float64 { return 5.5 },
		"in_a_line_down":          func(i int) float64 { return 5.9 - 0.1*float64(i) },
		"in_a_line_up":            func(i int) float64 { return 5.1 + 0.1*float64(i) },
		"rising_ever_faster":      func(i int) float64 { return 5 + 0.1*math.Exp(float64(i)/3) },
		"falling_ever_faster":     func(i int) float64 { return 6 - 0.05*math.Exp(float64(i)/3) },
		"two_levels":              func(i int) float64 { return 5.7 - 0.5*math.Floor(float64(i)/3) },
		"one_reading_off":         func(i int) float64 { return 5.5 - 0.3*math.Floor(float64(i)/5) },
		"first_reading_off":       func(i int) float64 { return 5.5 - 0.3*math.Min(1, float64(i)) },
		"up_and_down":             func(i int) float64 { return 5.5 + 0.1*float64(i%2) },
		"in_a_line_but_for_0_005": func(i int) float64 { return math.Round((5.9-0.0437*float64(i))*100) / 100 },
	} {
		for _, n := range []int{5, 6, 12} {
			t.Run(name, func(t *testing.T) {
				ts, vs := line(n, f)
				if a, err := measure.FitApproach(ts, vs); err == nil && a.Sure() {
					e, ok := a.Enters(4.95)
					if ok && !math.IsInf(e.Latest, 1) {
						t.Errorf("%d readings give %+v, %+v", n, a, e)
					}
				}
			})
		}
	}
	t.Run("two_clusters", func(t *testing.T) {
		random := rand.New(rand.NewPCG(3, 3))
		for range 300 {
			ts := []float64{0, 10, 20, 900, 910, 920}
			vs := make([]float64, len(ts))
			for i := range vs {
				vs[i] = 5.7 - 0.4*math.Floor(ts[i]/900) + 0.01*random.NormFloat64()
			}
			if a, err := measure.FitApproach(ts, vs); err == nil && a.Sure() {
				if e, ok := a.Enters(4.95); ok && !math.IsInf(e.Latest, 1) {
					t.Errorf("%v: %+v %+v", vs, a, e)
				}
			}
		}
	})
	t.Run("noise", func(t *testing.T) {
		random := rand.New(rand.NewPCG(4, 4))
		confident := 0
		for range 2000 {
			ts, vs := line(12, func(int) float64 { return 5.2 + 0.05*random.NormFloat64() })
			if a, err := measure.FitApproach(ts, vs); err == nil && a.Sure() {
				if e, ok := a.Enters(4.95); ok && a.C < 4.95 && !math.IsInf(e.Latest, 1) {
					confident++
				}
			}
		}
		if confident > 0 {
			t.Errorf("%d of 2000", confident)
		}
	})
}
