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
		e := Evidence{"met", s.Quantity.Label, "", "#evidence"}
		switch s.State {
		case rules.TooFew:
			e.Icon, e.Detail = "open", fmt.Sprintf("Not enough points to say whether it drifts: %s in the hold.", words.Count(s.Trend.N, "reading"))
		case rules.Drifting:
			e.Icon, e.Detail = "look", "In tolerance but still drifting "+drift(s)+"."
		default:
			e.Detail = "No drift seen in " + words.Count(s.Trend.N, "reading") + "."
		}
		e.Detail += scatter(s)
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

// drift writes a slope: up 0.04 mPa·s per hour (90 %: 0.02 to 0.07).
func drift(s rules.Stability) string {
	way := "up"
	if s.PerHour < 0 {
		way = "down"
	}
	text := fmt.Sprintf("%s %s %s per hour", way, twoDigits(s.PerHour), measure.Sign(s.Quantity.Unit))
	if !s.Bounded {
		return text
	}
	low, high := math.Abs(s.Lowest), math.Abs(s.Utmost)
	return fmt.Sprintf("%s (90 %%: %s to %s)", text, twoDigits(min(low, high)), twoDigits(max(low, high)))
}

// scatter says what the individuals view shows, "" without a range.
func scatter(s rules.Stability) string {
	if s.Individuals.Ranges == 0 {
		return ""
	}
	v := s.Individuals
	if v.Outside == 0 {
		return fmt.Sprintf(" From reading to reading it moves by %s; none lies outside %.4g to %.4g.", twoDigits(v.MeanRange), v.Lower, v.Upper)
	}
	return fmt.Sprintf(" From reading to reading it moves by %s; %d of %d outside %.4g to %.4g.", twoDigits(v.MeanRange), v.Outside, v.N, v.Lower, v.Upper)
}

// twoDigits writes a size with two significant digits.
func twoDigits(x float64) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(math.Abs(x), 'e', 1, 64), 64)
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}
