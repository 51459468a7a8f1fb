package chart

import (
	"settlemark/internal/words"
)

func (r run) title() words.Text {
	if r.series.Quantity.Label == "" {
		return words.Say("Readings since first start, with the hold")
	}
	return words.Say("%s since first start, with the hold", r.series.Quantity.Label)
}

// story tells in two sentences what the picture shows: how the quantity moved,
// and how the hold stands.
func (r run) story(o Options) string {
	return words.Sentences(r.movement(o), r.standing(o)).In(o.Language)
}

func (r run) movement(o Options) words.Text {
	label := words.Plain(r.series.Quantity.Label)
	if label.Empty() {
		label = words.Say("The quantity")
	}
	lower, upper, _ := r.limitWords(o)
	band := words.Text{}
	if lower[0] != "" && upper[0] != "" {
		band = words.Say(", band %s to %s", lower[0], upper[0])
	}
	if len(r.readings) == 0 {
		return words.Say("%s has no reading yet%s.", label, band)
	}
	first, last := r.readings[0], r.readings[len(r.readings)-1]
	if len(r.readings) == 1 {
		return words.Say("%s has one reading, %s at %s%s.", label, words.Number(first.Value), o.clock(first.at), band)
	}
	in := 0
	for _, p := range r.readings {
		if p.in() {
			in++
		}
	}
	faults := words.Text{}
	if n := len(r.faults); n > 0 {
		faults = words.Many(n, " and %d fault", " and %d faults")
	}
	return words.Say("%s went from %s at %s to %s at %s%s, with %d of %d readings in band%s.", label,
		words.Number(first.Value), o.clock(first.at), words.Number(last.Value), o.clock(last.at), band, in, len(r.readings), faults)
}

func (r run) standing(o Options) words.Text {
	before := r.before(o)
	live, ok := r.live()
	switch {
	case ok && r.passed:
		return words.Say("The hold of %s is complete, %s to %s%s.", live.lasted(), o.clock(live.From), o.clock(live.To), before)
	case ok:
		return words.Say("The hold runs since %s, %s of %s proven%s.", o.clock(live.From), live.lasted(), words.Lasting(r.required), before)
	}
	return words.Say("No hold runs%s.", before)
}

// before tells of the holds that did not count, and of the readings that ended
// the first of them.
func (r run) before(o Options) words.Text {
	void := 0
	for _, h := range r.holds {
		if !h.live {
			void++
		}
	}
	if void == 0 {
		return words.Text{}
	}
	var broken []words.Text
	for _, p := range r.readings {
		if p.broke && len(broken) < 3 {
			broken = append(broken, words.Say("%s at %s", words.Number(p.Value), o.clock(p.at)))
		}
	}
	if len(broken) == 0 {
		return words.Many(void, " after %d hold that did not count", " after %d holds that did not count")
	}
	return words.Many(void, " after %d hold that did not count, ended by %s", " after %d holds that did not count, ended by %s",
		words.Join(", ", broken...))
}
