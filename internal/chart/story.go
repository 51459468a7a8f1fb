package chart

import (
	"fmt"
	"strings"
	"time"

	"settlemark/internal/words"
)

func (r run) title() string {
	label := r.series.Quantity.Label
	if label == "" {
		label = "Readings"
	}
	return label + " since first start, with the hold"
}

// story tells in two sentences what the picture shows: how the quantity moved,
// and how the hold stands.
func (r run) story(o Options) string {
	return r.movement(o) + " " + r.standing(o)
}

func (r run) movement(o Options) string {
	label := r.series.Quantity.Label
	if label == "" {
		label = "The quantity"
	}
	lower, upper, _ := r.limitWords()
	band := ""
	if lower[0] != "" && upper[0] != "" {
		band = fmt.Sprintf(", band %s to %s", lower[0], upper[0])
	}
	if len(r.readings) == 0 {
		return fmt.Sprintf("%s has no reading yet%s.", label, band)
	}
	first, last := r.readings[0], r.readings[len(r.readings)-1]
	if len(r.readings) == 1 {
		return fmt.Sprintf("%s has one reading, %s at %s%s.", label, first.Value, o.clock(first.at), band)
	}
	out, broke := 0, 0
	for _, p := range r.readings {
		if !p.in() {
			out++
		}
		if p.broke {
			broke++
		}
	}
	text := fmt.Sprintf("%s went from %s at %s to %s at %s%s, with %d of %d readings in band", label,
		first.Value, o.clock(first.at), last.Value, o.clock(last.at), band, len(r.readings)-out, len(r.readings))
	if n := len(r.faults); n > 0 {
		text += " and " + words.Count(n, "fault")
	}
	return text + "."
}

func (r run) standing(o Options) string {
	void := 0
	var broken []string
	for _, h := range r.holds {
		if !h.live {
			void++
		}
	}
	for _, p := range r.readings {
		if p.broke && len(broken) < 3 {
			broken = append(broken, fmt.Sprintf("%s at %s", p.Value, o.clock(p.at)))
		}
	}
	before := ""
	if void > 0 {
		before = fmt.Sprintf(" after %s that did not count", words.Count(void, "hold"))
		if len(broken) > 0 {
			before += ", ended by " + strings.Join(broken, ", ")
		}
	}
	live, ok := r.live()
	switch {
	case ok && r.passed:
		return fmt.Sprintf("The hold of %s min is complete, %s to %s%s.", minutes(live.To.Sub(live.From)), o.clock(live.From), o.clock(live.To), before)
	case ok:
		held := live.To.Sub(live.From)
		part := minutes(held)
		if held < time.Minute {
			part = lasted(held)
		}
		return fmt.Sprintf("The hold runs since %s, %s of %s min proven%s.", o.clock(live.From), part, minutes(r.required), before)
	}
	return fmt.Sprintf("No hold runs%s.", before)
}
