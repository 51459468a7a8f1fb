package measure_test

import (
	"math"
	"testing"

	"settlemark/internal/measure"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %v, wants %v", what, got, want)
	}
}

// US EPA, Statistical Analysis of Groundwater Monitoring Data at RCRA
// Facilities, Unified Guidance (2009), example 17-6: sulfate in ppm by year.
// Interval by Gilbert's method, with interpolation.
var (
	sulfateYears = []float64{89.6, 89.8, 90.1, 90.3, 90.6, 90.8, 91.1, 91.3, 91.6, 91.8, 92.1, 92.6, 93.1, 93.6, 94.1, 94.6, 95.1, 95.6, 95.8, 96.1, 96.3, 96.6, 96.8}
	sulfate      = []float64{480, 450, 490, 520, 485, 510, 510, 530, 510, 560, 560, 540, 590, 550, 600, 700, 570, 610, 650, 620, 830, 720, 590}
)

func TestTrend(t *testing.T) {
	t.Run("sulfate of the EPA guidance", func(t *testing.T) {
		tr := measure.FindTrend(sulfateYears, sulfate)
		if tr.N != 23 || tr.S != 194 || tr.Variance != 1428 {
			t.Errorf("n %d, S %d, variance %v", tr.N, tr.S, tr.Variance)
		}
		near(t, "Z", tr.Z, 5.107322, 5e-7)
		near(t, "the chance on both sides", 2*tr.Chance, 3.267574e-07, 5e-13)
		near(t, "the slope", tr.Slope, 26.6666667, 5e-7) // the differences of two years like 90.1 are not exact
		low, high, ok := tr.Between(0.95)
		if !ok {
			t.Fatal("no interval")
		}
		near(t, "the lower slope", low, 20, 5e-6)
		near(t, "the upper slope", high, 35.71182, 5e-6)
	})
	t.Run("the same by index", func(t *testing.T) {
		index := make([]float64, len(sulfate))
		for i := range index {
			index[i] = float64(i)
		}
		tr := measure.FindTrend(index, sulfate)
		near(t, "the slope", tr.Slope, 9.4444444, 5e-8)
		low, high, _ := tr.Between(0.95)
		near(t, "the lower slope", low, 6.6666667, 5e-8)
		near(t, "the upper slope", high, 12.1675355, 1e-7)
	})
	t.Run("few readings are counted out", func(t *testing.T) {
		// Gilbert 1987, example 16.1 (data from memory): 4 of 24 orders.
		tr := measure.FindTrend([]float64{1, 2, 3, 4}, []float64{10, 15, 14, 20})
		if tr.S != 4 {
			t.Errorf("S is %d", tr.S)
		}
		near(t, "the chance", tr.Chance, 4.0/24, 1e-12)
		// P(S ≥ s), counted out independently; Gilbert 1987, table A18.
		for _, c := range []struct {
			n, s   int
			chance float64
		}{
			{4, 6, 0.041667},
			{4, 2, 0.375},
			{4, 0, 0.625},
			{5, 10, 0.008333},
			{5, 8, 0.041667},
			{5, 6, 0.116667},
			{5, 4, 0.241667},
			{6, 15, 0.001389},
			{6, 13, 0.008333},
			{6, 11, 0.027778},
			{6, 9, 0.068056},
			{8, 28, 0.000025},
			{8, 22, 0.002753},
			{8, 18, 0.015575},
			{8, 16, 0.030506},
			{10, 27, 0.008333},
			{10, 25, 0.014305},
			{10, 23, 0.023311},
		} {
			near(t, "the chance", measure.ExactChance(c.n, nil, c.s), c.chance, 6e-7)
		}
	})
	t.Run("ties are counted out as well", func(t *testing.T) {
		// 1 1 2: of its three orders only 1 1 2 has S = 2.
		tr := measure.FindTrend([]float64{0, 1, 2}, []float64{1, 1, 2})
		near(t, "the chance", tr.Chance, 1.0/3, 1e-12)
		// 1 1 2 2: six orders, S = 4 in one, at least 2 in two.
		near(t, "the chance", measure.ExactChance(4, []int{2, 2}, 4), 1.0/6, 1e-12)
		near(t, "the chance", measure.ExactChance(4, []int{2, 2}, 2), 2.0/6, 1e-12)
	})
	t.Run("constant readings have no trend", func(t *testing.T) {
		tr := measure.FindTrend([]float64{0, 1, 2, 3}, []float64{5, 5, 5, 5})
		if tr.S != 0 || tr.Z != 0 || tr.Chance != 1 || tr.Slope != 0 {
			t.Errorf("%+v", tr)
		}
	})
	t.Run("three readings can show no drift, four can", func(t *testing.T) {
		for n, can := range map[int]bool{0: false, 1: false, 3: false, 4: true, 50: true} {
			if measure.Decides(n, 0.05) != can {
				t.Error(n)
			}
		}
	})
}

func TestIndividuals(t *testing.T) {
	ts := []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}
	// NIST/SEMATECH e-Handbook, section 6.3.2.2, with d2 = 1.128.
	vs := []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	t.Run("the flow rates of the NIST handbook", func(t *testing.T) {
		v := measure.FindIndividuals(ts, vs, 1)
		near(t, "the mean", v.Mean, 50.81, 1e-9)
		near(t, "the mean range", v.MeanRange, 1.8778, 5e-5)
		near(t, "the upper limit", v.Upper, 55.8041, 5e-5)
		near(t, "the lower limit", v.Lower, 45.8159, 5e-5)
		near(t, "the upper limit of the ranges", v.UpperRange, 6.1347, 5e-5) // 3.267 · 1.8778
		if v.Outside != 0 || v.Ranges != 9 {
			t.Errorf("%+v", v)
		}
	})
	t.Run("a range does not cross a gap", func(t *testing.T) {
		apart := append([]float64{}, ts...)
		for i := 5; i < len(apart); i++ {
			apart[i]++
		}
		v := measure.FindIndividuals(apart, vs, 1)
		near(t, "the mean range", v.MeanRange, (16.9-3.4)/8, 1e-9) // without 47.8 to 51.2
		if v.Ranges != 8 {
			t.Errorf("%+v", v)
		}
	})
	t.Run("a reading far off lies outside", func(t *testing.T) {
		v := measure.FindIndividuals(ts, []float64{5, 5.01, 5, 5.01, 5, 5.3, 5, 5.01, 5, 5.01}, 1)
		if v.Outside != 1 {
			t.Errorf("%+v", v)
		}
	})
}
