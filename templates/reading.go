package templates

import (
	"context"
	"strings"

	"settlemark/internal/chart"
	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
	"settlemark/templates/parts"

	"github.com/a-h/templ"
)

// Pad is the reading pad for one quantity.
type Pad struct {
	Quantity commissioning.Quantity
	Gauge    rules.Point // a reading of now as the rules would meet it: target and limits
}

func (p Pad) isState() bool { return p.Quantity.State != nil }

// places is the number of decimals that the quantity is read with.
func (p Pad) places() int {
	places, target := 0, p.Quantity.Target
	if target == nil {
		return 1
	}
	texts := []string{target.Value}
	for _, c := range target.Curve {
		texts = append(texts, c.Value)
	}
	if tol := p.Quantity.Tolerance; tol != nil {
		texts = append(texts, tol.Absolute, tol.Lower, tol.Upper)
	}
	for _, t := range texts {
		if _, after, ok := strings.Cut(t, "."); ok {
			places = max(places, len(after))
		}
	}
	return places
}

func (p Pad) placesWords() words.Text {
	switch n := p.places(); n {
	case 0:
		return words.Say("Whole numbers.")
	case 1:
		return words.Say("One decimal.")
	case 2:
		return words.Say("Two decimals.")
	default:
		return words.Say("%d decimals.", n)
	}
}

func (v RunView) padTitle(p Pad) words.Text {
	return words.Say("%s, %s check", p.Quantity.Label, v.Clock(v.Now))
}

func (v RunView) padRuler(r words.Reader, p Pad) templ.Component {
	g := chart.Gauge{Lower: short(p.Gauge.Lower), Target: p.Gauge.Target, Upper: short(p.Gauge.Upper)}
	g.Beside = func(value string) string { return parts.Amount{Value: value, Unit: p.Quantity.Unit}.Beside(r) }
	if last := v.Last(p.Quantity.Key); last != nil {
		g.Last = short(last.Value)
	}
	return templRaw(chart.Ruler(r.Language, g, 460).Named("ruler", "ruler-").SVG())
}

// short writes a decimal with four places at most, for labels beside a picture.
func short(text string) string {
	d, err := measure.Parse(text)
	if err != nil {
		return text
	}
	if _, after, ok := strings.Cut(text, "."); ok && len(after) > 4 {
		return d.Round(4).Reduced().String()
	}
	return text
}

// before lists the last three readings, newest first.
func (v RunView) before(quantity string) []rules.Point {
	points := v.Series(quantity).Points
	var out []rules.Point
	for i := len(points) - 1; i >= 0 && len(out) < 3; i-- {
		out = append(out, points[i])
	}
	return out
}

func (v RunView) pointWords(p Pad, before rules.Point) words.Text {
	if before.Value == "" {
		return v.Answer(before.Entry)
	}
	return withUnit(before.Value, p.Quantity.Unit)
}

func (v RunView) lastValue(p Pad) string {
	if last := v.Last(p.Quantity.Key); last != nil {
		return last.Value
	}
	return ""
}

func (v RunView) quantityOptions() []parts.Option {
	var out []parts.Option
	for _, q := range v.Procedure.Quantities {
		out = append(out, parts.Option{Value: q.Key, Label: words.Plain(q.Label)})
	}
	return out
}

// keypad is the keys with the reader's decimal mark.
func keypad(l words.Language) []string {
	return []string{"1", "2", "3", "4", "5", "6", "7", "8", "9", l.Mark(), "0", "delete"}
}

func keyLabel(key string) words.Text {
	switch key {
	case ".", ",":
		return words.Say("decimal point")
	case "delete":
		return words.Say("Delete last digit")
	}
	return words.Plain(key)
}

// padSays are the sentences of the pad's script.
func padSays(ctx context.Context) templ.Attributes {
	return templ.Attributes{
		"data-say-digits":       parts.T(ctx, "Digits and one decimal mark only."),
		"data-say-mark":         parts.T(ctx, "There is a decimal mark already."),
		"data-say-zero":         parts.T(ctx, "Put a 0 before the decimal mark."),
		"data-say-leading":      parts.T(ctx, "A number does not start with 0. Use the decimal mark."),
		"data-say-whole":        parts.T(ctx, "Whole numbers here."),
		"data-say-place":        parts.T(ctx, "One decimal here."),
		"data-say-places":       parts.T(ctx, "{n} decimals here."),
		"data-say-long":         parts.T(ctx, "That is too long for a number here."),
		"data-say-save":         parts.T(ctx, "Save"),
		"data-say-save-value":   parts.T(ctx, "Save {value}"),
		"data-say-in":           parts.T(ctx, "In band"),
		"data-say-below":        parts.T(ctx, "Below the band"),
		"data-say-above":        parts.T(ctx, "Above the band"),
		"data-say-on-target":    parts.T(ctx, "{place}, on target"),
		"data-say-under-target": parts.T(ctx, "{place}, {off} % under target"),
		"data-say-over-target":  parts.T(ctx, "{place}, {off} % over target"),
	}
}
