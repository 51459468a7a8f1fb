package measure_test

import (
	"testing"

	"pgregory.net/rapid"

	"settlemark/internal/measure"
)

func curveOf(pairs ...string) measure.Curve {
	var points []measure.Point
	for i := 0; i < len(pairs); i += 2 {
		points = append(points, measure.Point{At: measure.Must(pairs[i]), Value: measure.Must(pairs[i+1])})
	}
	return measure.NewCurve(points)
}

func TestCurve(t *testing.T) {
	ink := curveOf("15", "5.10", "25", "4.20", "35", "3.60")
	level := curveOf("10", "4.12345", "20", "4.12345")
	// 1/T of 400 K lies half way between those of 300 K and 600 K, so the value
	// there is the geometric mean.
	mean := curveOf("26.85", "4", "326.85", "9")
	tie := curveOf("26.85", "1", "326.85", "4.0002000025")
	for _, c := range []struct {
		name  string
		curve measure.Curve
		at    string
		want  string // "" when outside
	}{
		{"the first point", ink, "15", "5.1000"},
		{"a point in the middle", ink, "25.00", "4.2000"},
		{"the last point", ink, "35", "3.6000"},
		{"between points", ink, "20", "4.6205"},
		{"below", ink, "14.999", ""},
		{"above", ink, "35.001", ""},
		{"a point is rounded half-even as well", level, "10", "4.1234"},
		{"two equal points give their value exactly", level, "13.7", "4.1234"},
		{"half way in one over T is the geometric mean", mean, "126.85", "6.0000"},
		{"an exact tie between points is rounded half-even", tie, "126.85", "2.0000"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, ok := c.curve.At(measure.Must(c.at))
			if ok != (c.want != "") || ok && got.String() != c.want {
				t.Errorf("%s %v, want %s", got, ok, c.want)
			}
		})
	}
	t.Run("the quick way agrees with the long one wherever it is sure", func(t *testing.T) {
		sure := 0
		rapid.Check(t, func(t *rapid.T) {
			celsius := measure.Must(rapid.StringMatching(`1[5-9]\.[0-9]{1,6}1|2[0-4]\.[0-9]{1,6}1`).Draw(t, "celsius"))
			if near, ok := measure.Estimate(ink, celsius, 1); ok {
				sure++
				if exact := measure.Compute(ink, celsius, 1); near.Cmp(exact) != 0 {
					t.Fatalf("%s: %s and %s", celsius, near, exact)
				}
			}
		})
		if sure < 50 {
			t.Errorf("sure %d times only", sure)
		}
	})
}
