// Package measure holds exact decimals, units, tolerances, decision rules and
// temperature curves. It is pure: no clock, no database, no network.
//
// Limits are never binary floats: 4.95 lies inside 4.50 ± 10 %, 4.9500001 does
// not. Use Parse for anything a person or a machine has typed; the text that
// was typed comes back from String digit by digit.
package measure

import (
	"errors"
	"strconv"
	"strings"

	"github.com/cockroachdb/apd/v3"
)

// What Parse takes: the number grammar of JSON, in at most maxText characters
// and with an exponent of at most maxExponent, so that 1e999999999 is a
// refusal and not a machine busy for an hour.
const (
	maxText     = 100
	maxExponent = 50
)

// exact neither rounds nor loses a digit when it adds, subtracts or multiplies.
var exact = apd.BaseContext

// fine carries a quotient that has no end. Typed numbers have at most 100
// digits, so a quotient that differs from a limit differs well before digit 400.
var fine = halfEven(400)

func halfEven(digits uint32) *apd.Context {
	context := apd.BaseContext.WithPrecision(digits)
	context.Rounding = apd.RoundHalfEven
	return context
}

// errDecimal is the refusal of Parse.
var errDecimal = errors.New("not a decimal number")

// Decimal is an exact decimal number that never changes. The zero value is 0.
type Decimal struct{ n *apd.Decimal }

// Parse reads a decimal: an optional minus, digits without leading zeros, an
// optional fraction, an optional exponent. No plus, blank, NaN, Inf or hex.
func Parse(text string) (Decimal, error) {
	if !wellFormed(text) {
		return Decimal{}, errDecimal
	}
	n, _, err := apd.NewFromString(text)
	if err != nil {
		return Decimal{}, errDecimal
	}
	if n.IsZero() {
		n.Negative = false
	}
	return Decimal{n}, nil
}

// Must is Parse for text that a parser has accepted already.
func Must(text string) Decimal {
	d, err := Parse(text)
	if err != nil {
		panic("measure: " + strconv.Quote(text) + " was never checked")
	}
	return d
}

// Whole makes a decimal of an integer.
func Whole(n int64) Decimal { return Decimal{apd.New(n, 0)} }

// wellFormed holds text against the grammar and the bounds of Parse.
func wellFormed(text string) bool {
	if len(text) > maxText {
		return false
	}
	rest := strings.TrimPrefix(text, "-")
	whole, rest := digits(rest)
	if whole == "" || len(whole) > 1 && whole[0] == '0' {
		return false
	}
	if after, ok := strings.CutPrefix(rest, "."); ok {
		var fraction string
		if fraction, rest = digits(after); fraction == "" {
			return false
		}
	}
	if rest == "" {
		return true
	}
	if rest[0] != 'e' && rest[0] != 'E' {
		return false
	}
	exponent, err := strconv.Atoi(rest[1:])
	if err != nil || strings.ContainsRune(rest[1:], '_') {
		return false
	}
	return -maxExponent <= exponent && exponent <= maxExponent
}

// digits cuts the leading digits off text.
func digits(text string) (lead, rest string) {
	end := 0
	for end < len(text) && '0' <= text[end] && text[end] <= '9' {
		end++
	}
	return text[:end], text[end:]
}

func (d Decimal) value() *apd.Decimal {
	if d.n == nil {
		return new(apd.Decimal)
	}
	return d.n
}

// String writes the number in plain digits, trailing zeros as they were typed.
func (d Decimal) String() string { return d.value().Text('f') }

// Plus is d + e, exact.
func (d Decimal) Plus(e Decimal) Decimal { return exactly(exact.Add, d, e) }

// Minus is d − e, exact.
func (d Decimal) Minus(e Decimal) Decimal { return exactly(exact.Sub, d, e) }

// Times is d × e, exact.
func (d Decimal) Times(e Decimal) Decimal { return exactly(exact.Mul, d, e) }

// Over is d ÷ e: exact where the quotient ends, else to 400 digits. e is not 0.
func (d Decimal) Over(e Decimal) Decimal {
	if e = e.Reduced(); e.value().Coeff.Cmp(one) == 0 && !e.value().Negative { // a power of ten moves the point
		out := new(apd.Decimal).Set(d.value())
		out.Exponent -= e.value().Exponent
		return Decimal{out}.Reduced()
	}
	return exactly(fine.Quo, d, e).Reduced()
}

var one = apd.NewBigInt(1)

func exactly(do func(out, x, y *apd.Decimal) (apd.Condition, error), d, e Decimal) Decimal {
	out := new(apd.Decimal)
	if _, err := do(out, d.value(), e.value()); err != nil {
		panic("measure: " + err.Error()) // the bounds of Parse keep every result in range
	}
	if out.IsZero() {
		out.Negative = false
	}
	return Decimal{out}
}

// Abs is d without its sign.
func (d Decimal) Abs() Decimal { return Decimal{new(apd.Decimal).Abs(d.value())} }

// Cmp is -1, 0 or 1 as d is below, equal to or above e.
func (d Decimal) Cmp(e Decimal) int { return d.value().Cmp(e.value()) }

// Sign is -1, 0 or 1.
func (d Decimal) Sign() int { return d.value().Sign() }

// Reduced drops trailing zeros: 4.050 becomes 4.05. It cuts them off the text,
// which costs less than dividing them away one by one.
func (d Decimal) Reduced() Decimal {
	n := d.value()
	digits := n.Coeff.String()
	kept := strings.TrimRight(digits, "0")
	switch {
	case kept == "":
		return Decimal{}
	case len(kept) == len(digits):
		return d
	}
	out := &apd.Decimal{Negative: n.Negative, Exponent: n.Exponent}
	for range len(digits) - len(kept) {
		out.Exponent++
	}
	out.Coeff.SetString(kept, 10)
	return Decimal{out}
}

// Round rounds half-even to so many decimals and keeps exactly that many.
func (d Decimal) Round(decimals int32) Decimal {
	out := new(apd.Decimal)
	if _, err := fine.Quantize(out, d.value(), -decimals); err != nil {
		panic("measure: " + err.Error())
	}
	if out.IsZero() {
		out.Negative = false
	}
	return Decimal{out}
}

// significant rounds half-even to so many significant digits.
func (d Decimal) significant(count uint32) Decimal {
	out := new(apd.Decimal)
	if _, err := halfEven(count).Round(out, d.value()); err != nil {
		panic("measure: " + err.Error())
	}
	return Decimal{out}
}

// Shown is the number as it is printed: exact, but for a quotient without an
// end, which is cut to 12 significant digits.
func (d Decimal) Shown() string {
	if d.value().NumDigits() > 3*maxText {
		return d.significant(12).Reduced().String()
	}
	return d.String()
}

// Float gives the nearest float64, for probabilities and fits only.
func (d Decimal) Float() float64 {
	f, _ := strconv.ParseFloat(d.significant(30).value().String(), 64)
	return f
}
