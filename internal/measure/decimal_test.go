package measure_test

import (
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"settlemark/internal/measure"
)

func TestParse(t *testing.T) {
	for text, want := range map[string]string{
		"4.50": "4.50", "-3": "-3", "0": "0", "-0": "0", "1e-3": "0.001", "1E+2": "100", "0.0": "0.0", "4.9500001": "4.9500001",
		"1e50": "1" + strings.Repeat("0", 50),
	} {
		t.Run("takes "+text, func(t *testing.T) {
			d, err := measure.Parse(text)
			if err != nil || d.String() != want {
				t.Errorf("%s, %v; want %s", d, err, want)
			}
		})
	}
	for _, text := range []string{
		"", " 1", "1 ", "+1", ".5", "5.", "01", "-", "--1", "1,5", "0x10", "1_000", "1e", "1e1_0", "NaN", "Inf", "Infinity", "-inf",
		"1e51", "1e-51", "1e999999999", "1e99999999999999999999", strings.Repeat("1", 101), "4.5 mPa.s", "١", "½",
	} {
		t.Run("refuses "+text, func(t *testing.T) {
			if d, err := measure.Parse(text); err == nil {
				t.Errorf("took it as %s", d)
			}
		})
	}
}

func TestArithmetic(t *testing.T) {
	d := measure.Must
	for _, c := range []struct{ name, got, want string }{
		{"sums are exact", d("0.1").Plus(d("0.2")).String(), "0.3"},
		{"differences are exact", d("1e-50").Minus(d("1e50")).String(), "-" + strings.Repeat("9", 50) + "." + strings.Repeat("9", 50)},
		{"products are exact", d("1.000000000000000000001").Times(d("1.000000000000000000001")).String(), "1.000000000000000000002000000000000000000001"},
		{"quotients that end are exact", d("1").Over(d("8")).String(), "0.125"},
		{"dividing by a power of ten moves the point", d("4.50").Over(d("1000")).String(), "0.0045"},
		{"quotients without an end are shown with 12 digits", d("2").Over(d("3")).Shown(), "0.666666666667"},
		{"rounding is half-even down", d("0.125").Round(2).String(), "0.12"},
		{"rounding is half-even up", d("0.135").Round(2).String(), "0.14"},
		{"rounding never leaves a negative zero", d("-0.001").Round(2).String(), "0.00"},
		{"trailing zeros are dropped when asked", d("4.0500").Reduced().String(), "4.05"},
		{"and no zero before the point is", d("100").Reduced().String(), "100"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.got != c.want {
				t.Errorf("%s, want %s", c.got, c.want)
			}
		})
	}
	t.Run("the zero value is zero", func(t *testing.T) {
		var zero measure.Decimal
		if zero.String() != "0" || zero.Plus(d("1")).Cmp(d("1")) != 0 {
			t.Error(zero)
		}
	})
}

// decimals draws numbers as people type them.
func decimals() *rapid.Generator[string] {
	return rapid.StringMatching(`-?(0|[1-9][0-9]{0,12})(\.[0-9]{1,12})?(e-?[0-9])?`)
}

func TestAgainstRationals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := decimals().Draw(t, "x"), decimals().Draw(t, "y")
		a, b := measure.Must(x), measure.Must(y)
		p, _ := new(big.Rat).SetString(x)
		q, _ := new(big.Rat).SetString(y)
		same := func(name string, got measure.Decimal, want *big.Rat) {
			if have, ok := new(big.Rat).SetString(got.String()); !ok || have.Cmp(want) != 0 {
				t.Fatalf("%s of %s and %s: %s", name, x, y, got)
			}
		}
		same("sum", a.Plus(b), new(big.Rat).Add(p, q))
		same("difference", a.Minus(b), new(big.Rat).Sub(p, q))
		same("product", a.Times(b), new(big.Rat).Mul(p, q))
		if a.Cmp(b) != p.Cmp(q) {
			t.Fatalf("order of %s and %s", x, y)
		}
	})
}
