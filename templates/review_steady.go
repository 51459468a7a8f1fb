package templates

import (
	"fmt"
	"math"
	"strconv"

	"github.com/a-h/templ"

	"settlemark/internal/chart"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// Steadiness says of each quantity of the hold how steady it was: advice for
// the one who countersigns, asked for by no gate.
func (v ReviewView) Steadiness() []Evidence {
	var out []Evidence
	for _, s := range v.Exam.Stability(v.Procedure.Gates.Hold) {
		e := Evidence{"met", words.Plain(s.Quantity.Label), words.Text{}, "#evidence"}
		switch s.State {
		case rules.TooFew:
			e.Icon, e.Detail = "open", words.Many(s.Trend.N,
				"Not enough points to say whether it drifts: %d reading in the hold.", "Not enough points to say whether it drifts: %d readings in the hold.")
		case rules.Drifting:
			e.Icon, e.Detail = "look", drift(s)
		default:
			e.Detail = words.Many(s.Trend.N, "No drift seen in %d reading.", "No drift seen in %d readings.")
		}
		e.Detail = words.Sentences(e.Detail, scatter(s))
		out = append(out, e)
	}
	return out
}

// SteadyCharts draws the readings behind the advice, each quantity in three
// widths as RunChart does. A hold of too many readings has words only.
func (v ReviewView) SteadyCharts(l words.Language) []templ.Component {
	var out []templ.Component
	for _, s := range v.Exam.Stability(v.Procedure.Gates.Hold) {
		if s.Individuals.Ranges == 0 || s.Individuals.N > chart.MostIndividuals {
			continue
		}
		for _, size := range []struct {
			class         string
			width, height float64
		}{{"wide", 530, 300}, {"mid", 764, 300}, {"narrow", 358, 300}} {
			c := chart.Individuals(s, chart.Options{Width: size.width, Height: size.height, Zone: v.Zone, Language: l})
			out = append(out, templRaw(c.Named("chart "+size.class, "steady-"+s.Quantity.Key+"-"+size.class+"-").SVG()))
		}
	}
	return out
}

// drift says a slope: up 0.04 mPa·s per hour (90 %: 0.02 to 0.07).
func drift(s rules.Stability) words.Text {
	slope := words.Say("%s %s per hour", twoDigits(s.PerHour), measure.Sign(s.Quantity.Unit))
	if s.Bounded {
		low, high := math.Abs(s.Lowest), math.Abs(s.Utmost)
		slope = words.Say("%s (90 %%: %s to %s)", slope, twoDigits(min(low, high)), twoDigits(max(low, high)))
	}
	if s.PerHour < 0 {
		return words.Say("In tolerance but still drifting down %s.", slope)
	}
	return words.Say("In tolerance but still drifting up %s.", slope)
}

// scatter says what the individuals view shows, nothing without a range.
func scatter(s rules.Stability) words.Text {
	if s.Individuals.Ranges == 0 {
		return words.Text{}
	}
	v := s.Individuals
	lower, upper := fourDigits(v.Lower), fourDigits(v.Upper)
	if v.Outside == 0 {
		return words.Say("From reading to reading it moves by %s; none lies outside %s to %s.", twoDigits(v.MeanRange), lower, upper)
	}
	return words.Say("From reading to reading it moves by %s; %d of %d outside %s to %s.", twoDigits(v.MeanRange), v.Outside, v.N, lower, upper)
}

// twoDigits writes a size with two significant digits.
func twoDigits(x float64) words.Number {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(math.Abs(x), 'e', 1, 64), 64)
	return words.Number(strconv.FormatFloat(rounded, 'f', -1, 64))
}

func fourDigits(x float64) words.Number { return words.Number(fmt.Sprintf("%.4g", x)) }
