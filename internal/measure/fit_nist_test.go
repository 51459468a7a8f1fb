package measure_test

import (
	"bufio"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"settlemark/internal/measure"
)

// certified is one data set of the NIST/ITL Statistical Reference Datasets
// (a work of the US Government), read from its file as published.
type certified struct {
	xs, ys     []float64
	starts     [2][]float64
	values, sd []float64
	rss        float64
}

// readNIST reads the layout of the files: parameters from line 41, data from line 61.
func readNIST(t *testing.T, name string) certified {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", "strd", name+".dat"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	var c certified
	lines := bufio.NewScanner(file)
	for line := 1; lines.Scan(); line++ {
		words := strings.Fields(lines.Text())
		switch {
		case len(words) == 6 && strings.HasPrefix(words[0], "b") && words[1] == "=":
			c.starts[0] = append(c.starts[0], number(t, words[2]))
			c.starts[1] = append(c.starts[1], number(t, words[3]))
			c.values = append(c.values, number(t, words[4]))
			c.sd = append(c.sd, number(t, words[5]))
		case strings.HasPrefix(lines.Text(), "Residual Sum of Squares"):
			c.rss = number(t, words[len(words)-1])
		case line > 60 && len(words) == 2:
			c.ys = append(c.ys, number(t, words[0]))
			c.xs = append(c.xs, number(t, words[1]))
		}
	}
	if len(c.values) < 2 || len(c.xs) < 6 || c.rss == 0 {
		t.Fatalf("%s: read %+v", name, c)
	}
	return c
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// The shapes of the data sets, in the parameters of the files.
var (
	// fromZero is b1·(1 − exp(−b2·x)): an approach whose two ends are tied, c = −a.
	fromZero = measure.Shape{
		Linear: 1, Bent: 1,
		Columns: func(p, xs []float64, columns [][]float64) {
			for i, x := range xs {
				columns[0][i] = -math.Expm1(-p[0] * x)
			}
		},
		Slopes: func(b, p, xs []float64, _, slopes [][]float64) {
			for i, x := range xs {
				slopes[0][i] = b[0] * x * math.Exp(-p[0]*x)
			}
		},
	}
	// vogel is b1·exp(b2/(x + b3)), without a pole among the points: x + b3 > 0.
	vogel = measure.Shape{
		Linear: 1, Bent: 2,
		Columns: func(p, xs []float64, columns [][]float64) {
			for i, x := range xs {
				columns[0][i] = math.NaN()
				if x+p[1] > 0 {
					columns[0][i] = math.Exp(p[0] / (x + p[1]))
				}
			}
		},
		Slopes: func(b, p, xs []float64, columns, slopes [][]float64) {
			for i, x := range xs {
				y := b[0] * columns[0][i]
				slopes[0][i] = y / (x + p[1])
				slopes[1][i] = -y * p[0] / ((x + p[1]) * (x + p[1]))
			}
		},
	}
	// power is b1·x^b2 for x > 0.
	power = measure.Shape{
		Linear: 1, Bent: 1,
		Columns: func(p, xs []float64, columns [][]float64) {
			for i, x := range xs {
				columns[0][i] = math.Pow(x, p[0])
			}
		},
		Slopes: func(b, _, xs []float64, columns, slopes [][]float64) {
			for i, x := range xs {
				slopes[0][i] = b[0] * columns[0][i] * math.Log(x)
			}
		},
	}
)

// agreement is how many digits of a certified value stand: −log10 of the
// relative error. The files print 11.
func agreement(got, want float64) float64 {
	if got == want {
		return 11
	}
	return min(11, -math.Log10(math.Abs(got-want)/math.Abs(want)))
}

// TestNIST fits the reference sets from the starts that their files name.
func TestNIST(t *testing.T) {
	t.Logf("%-8s %-6s %8s %8s %8s   digits of agreement, of 11", "set", "start", "values", "SDs", "RSS")
	for _, c := range []struct {
		name  string
		shape measure.Shape
		start int
		fits  bool
	}{
		{"Misra1a", fromZero, 1, true},
		{"Misra1a", fromZero, 2, true},
		{"BoxBOD", fromZero, 1, false},
		{"BoxBOD", fromZero, 2, true},
		{"MGH10", vogel, 1, true},
		{"MGH10", vogel, 2, true},
		{"DanWood", power, 1, true},
		{"DanWood", power, 2, true},
	} {
		set := readNIST(t, c.name)
		fit, err := measure.Refine(c.shape, set.xs, set.ys, set.starts[c.start-1])
		if err != nil {
			t.Logf("%-8s %-6d %8s", c.name, c.start, err)
			if c.fits || !errors.Is(err, measure.ErrNoFit) {
				t.Errorf("%s from start %d: %v", c.name, c.start, err)
			}
			continue
		}
		values, sds := 11.0, 11.0
		for i := range set.values {
			values = min(values, agreement(fit.Params[i], set.values[i]))
			sds = min(sds, agreement(fit.SD(i), set.sd[i]))
		}
		rss := agreement(fit.RSS, set.rss)
		t.Logf("%-8s %-6d %8.1f %8.1f %8.1f", c.name, c.start, values, sds, rss)
		if !c.fits || values < 9 || sds < 8 || rss < 9 {
			t.Errorf("%s from start %d: %v, wants a fit: %v", c.name, c.start, fit.Params, c.fits)
		}
	}
}
