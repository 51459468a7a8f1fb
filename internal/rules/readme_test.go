package rules_test

import (
	"math"
	"os"
	"regexp"
	"testing"

	"settlemark/internal/measure"
	"settlemark/internal/rules"
)

// TestReadme judges the example of README.md, so that an auditor and the
// program read the same lines.
func TestReadme(t *testing.T) {
	data, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	block := func(name string) string {
		found := regexp.MustCompile("(?s)```" + name + "\n(.*?)```").FindSubmatch(data)
		if found == nil {
			t.Fatal("no block", name)
		}
		return string(found[1])
	}
	book := bookOf(t, bench, block("logbook"))
	x := rules.Examine(book, book.At)
	check(t, x.Assessment, block("verdict"))
	near := func(what string, got, want float64) {
		if math.Abs(got-want) > 0.005 {
			t.Errorf("%s is %v, by hand %v", what, got, want)
		}
	}
	t.Run("the drift over the hold", func(t *testing.T) {
		s := x.Stability(book.Procedure.Gates.Hold)[0]
		if s.State != rules.Drifting || s.Trend.S != -15 || math.Abs(s.Trend.Chance-1.0/720) > 1e-9 || s.Individuals.Outside != 1 {
			t.Errorf("%+v", s)
		}
		near("the slope", s.PerHour, -0.38)
		near("its lower end", s.Lowest, -0.78)
		near("its upper end", s.Utmost, -0.17)
		near("the lower limit", s.Individuals.Lower, 4.52)
		near("the upper limit", s.Individuals.Upper, 4.77)
	})
	t.Run("the forecast through points of one curve", func(t *testing.T) {
		var ts, vs []float64
		for i := range 6 {
			ts, vs = append(ts, 5*float64(i)), append(vs, 4.51+1.2*math.Exp(-float64(i)/5))
		}
		near("the second of the three", vs[2], 5.3144)
		near("the third of the three", vs[4], 5.0492)
		curve, err := measure.FitApproach(ts, vs)
		entry, ok := curve.Enters(4.95)
		if err != nil || !ok {
			t.Fatal(err, ok)
		}
		near("τ", curve.Tau, 25)
		near("c", curve.C, 4.51)
		near("the instant", entry.At, 25*math.Log(1.2/0.44))
	})
}
