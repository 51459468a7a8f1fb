package templates

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"settlemark/internal/commissioning"
	"settlemark/internal/measure"
	"settlemark/internal/rules"
	"settlemark/internal/words"
)

// Estimate is a number reckoned beside the checklist: what comes out, what was
// taken for granted, and how it was reckoned. It decides nothing.
type Estimate struct{ Title, Result, Assumes, Formula words.Text }

// Assumption is a number that nobody recorded. Cards take the first value and
// say so; the page of estimates lets people try their own.
type Assumption struct {
	Name               string
	Label              words.Text
	First, Least, Most string
}

// Assumptions in the order of the page. The first values are round numbers to
// begin with (common practice, no source).
var Assumptions = []Assumption{
	{"left", words.Say("Stays in the circuit after a drain, mL"), "50", "0", "10000"},
	{"circuit", words.Say("Ink in the circuit and its tank, mL"), "1000", "1", "100000"},
	{"spill", words.Say("Evaporates at once, mL"), "100", "0.1", "100000"},
	{"room", words.Say("Closed room, m³"), "50", "1", "100000"},
	{"rate", words.Say("Evaporates steadily, mL an hour"), "100", "0.1", "100000"},
	{"mixing", words.Say("Mixing factor of the room, 1 to 10"), "5", "1", "10"},
}

// Assumed are the assumptions by name.
type Assumed map[string]float64

// firstAssumed is what the cards take for granted.
func firstAssumed() Assumed {
	a := Assumed{}
	for _, one := range Assumptions {
		a[one.Name] = measure.Must(one.First).Float()
	}
	return a
}

// estimates that the run and the fluid's record allow, in the order of the work.
func (v RunView) estimates(a Assumed) []Estimate {
	var all []Estimate
	for _, reckon := range []func(Assumed) (Estimate, bool){
		func(a Assumed) (Estimate, bool) { return v.oldFluid(len(v.Procedure.Sections), a) }, v.makeUpToAdd, v.vapour, v.freshAir,
	} {
		if e, ok := reckon(a); ok {
			all = append(all, e)
		}
	}
	return all
}

// sectionOldFluid is the estimate under a section in which a flush was drained.
func (v RunView) sectionOldFluid(s SectionView) (Estimate, bool) {
	drained := slices.ContainsFunc(s.Lines, func(l rules.StepState) bool {
		return l.Step.Ask == commissioning.AskDrain && len(l.Answers) > 0
	})
	if !drained || !s.Shut.Empty() {
		return Estimate{}, false
	}
	return v.oldFluid(s.Index, firstAssumed())
}

// oldFluid reckons with every flush up to a section.
func (v RunView) oldFluid(section int, a Assumed) (Estimate, bool) {
	flushes := v.flushes(section, a["left"])
	share, ok := measure.Residual(flushes...)
	if !ok || len(flushes) == 0 {
		return Estimate{}, false
	}
	return Estimate{
		Title:  words.Say("Old fluid left"),
		Result: words.Say("About %s %% of the old fluid is left after %s.", about(100*share), words.Many(len(flushes), "%d flush", "%d flushes")),
		Assumes: words.Say("Assumes that %s mL stay behind at each drain, that what was drained had been added, and that it mixed through and through."+
			" A pocket that the flush does not reach keeps more.", about(a["left"])),
		Formula: words.Say("left ÷ (left + added), multiplied over the flushes: the washing formula of textbooks."),
	}, true
}

// flushes are the loads of make-up in the ink place with what was drained after
// each, up to a section. The fill with ink ends them.
func (v RunView) flushes(section int, left float64) []measure.Flush {
	var all []measure.Flush
	for _, st := range v.Exam.Steps {
		if st.Section > section || st.Step.Ask == commissioning.AskLoad && st.Step.Position == commissioning.Ink && !v.flushesWith(st.Step) {
			break
		}
		if len(st.Answers) > 0 && v.flushesWith(st.Step) {
			all = append(all, measure.Flush{Left: left})
		}
		for _, e := range st.Answers {
			if e.Kind == commissioning.KindDrain && len(all) > 0 {
				all[len(all)-1].Added += measure.Must(e.VolumeML).Float()
			}
		}
	}
	return slices.DeleteFunc(all, func(f measure.Flush) bool { return f.Added == 0 })
}

func (v RunView) flushesWith(s commissioning.Step) bool {
	return s.Ask == commissioning.AskLoad && s.Position == commissioning.Ink &&
		(s.Fluid == string(commissioning.MakeUp) || s.Fluid == v.Unit.Makeup)
}

// settleMakeUp is the estimate beside the hold of an open run.
func (v RunView) settleMakeUp() (Estimate, bool) {
	if v.Run.State != commissioning.Open {
		return Estimate{}, false
	}
	return v.makeUpToAdd(firstAssumed())
}

// makeUpToAdd is there while the latest reading lies above its band.
func (v RunView) makeUpToAdd(a Assumed) (Estimate, bool) {
	last := v.Last(v.Viscosity())
	thin, known := v.Makeup.Figures.Number(commissioning.Thickness)
	if last == nil || !known || last.Value == "" || last.Target == "" || last.Upper == "" || !less(last.Upper, last.Value) {
		return Estimate{}, false
	}
	from, ok := v.milliPascalSeconds(last.Value)
	to, alike := v.milliPascalSeconds(last.Target)
	add, solved := measure.MakeUpToAdd(a["circuit"], from, to, thin)
	if !ok || !alike || !solved {
		return Estimate{}, false
	}
	return Estimate{
		Title: words.Say("Make-up to add"),
		Result: words.Say("About %s mL of %s to %s mL of ink would bring %s down to %s.",
			about(add), v.Unit.Makeup, about(a["circuit"]), words.Number(short(last.Value)), words.Number(short(last.Target))),
		Assumes: words.Say("Assumes logarithmic mixing by volume and a make-up of %s mPa·s at the ink's temperature (%s). Let the unit's own control go first:"+
			" add less than this, wait until it has mixed, read again.", words.Number(v.Makeup.Figures[commissioning.Thickness].Value), v.Makeup.Figures[commissioning.Thickness].Source),
		Formula: words.Say("volume · x ÷ (1 − x) with x = ln(now ÷ target) ÷ ln(now ÷ make-up): Arrhenius, Kendall."),
	}, true
}

func (v RunView) milliPascalSeconds(text string) (float64, bool) {
	q, _ := v.Quantity(v.Viscosity())
	d, ok := measure.Convert(measure.Must(text), q.Unit, "mPa.s")
	return d.Float(), ok
}

// sectionVapour is the estimate among the cautions of the first section and of
// those in which fluid is drained.
func (v RunView) sectionVapour(s SectionView) (Estimate, bool) {
	open := s.Index == 0 || slices.ContainsFunc(s.Lines, func(l rules.StepState) bool { return l.Step.Ask == commissioning.AskDrain })
	if !open || !slices.Contains(s.Section.Cautions, "flammable") {
		return Estimate{}, false
	}
	return v.vapour(firstAssumed())
}

func (v RunView) vapourOf(millilitres float64) (float64, bool) {
	density, dense := v.Makeup.Figures.Number(commissioning.Density)
	molar, heavy := v.Makeup.Figures.Number(commissioning.MolarMass)
	litres, ok := measure.VapourLitres(millilitres, density, molar)
	return litres, ok && dense && heavy
}

func (v RunView) vapour(a Assumed) (Estimate, bool) {
	litres, ok := v.vapourOf(a["spill"])
	ppm, fits := measure.ClosedRoom(litres, a["room"])
	shares := v.vapourShares(ppm)
	molar, _ := v.Makeup.Figures.Number(commissioning.MolarMass)
	milligrams, _ := measure.MilligramsPerCubicMetre(ppm, molar)
	if !ok || !fits || len(shares) == 0 {
		return Estimate{}, false
	}
	return Estimate{
		Title: words.Say("Vapour in a closed room"),
		Result: words.Say("%s mL of %s, all evaporated in a closed room of %s m³: about %s ppm (%s mg/m³), %s.",
			about(a["spill"]), v.Unit.Makeup, about(a["room"]), about(ppm), about(milligrams), words.Join(", ", shares...)),
		Assumes: words.Say("Assumes even mixing at 25 °C and %s kPa and the figures in the fluid's record. Vapour is heavier than air: at the floor and at the spill"+
			" it is far denser. A caution, never a permission.", words.Number("101.325")),
		Formula: words.Say("mL · density ÷ molar mass · %s L, over the volume of the room: the gas law.", words.Number("24.45")),
	}, true
}

// vapourShares says how a concentration lies to each limit that is known.
func (v RunView) vapourShares(ppm float64) []words.Text {
	var all []words.Text
	f := v.Makeup.Figures
	if lel, known := f.Number(commissioning.LEL); known {
		if share, ok := measure.ShareOfLEL(ppm, lel); ok {
			all = append(all, words.Say("%s %% of the lower explosive limit of %s %% (%s)", about(100*share), words.Number(f[commissioning.LEL].Value), f[commissioning.LEL].Source))
		}
	}
	for _, limit := range []struct {
		key  string
		name words.Text
	}{{commissioning.Limit, words.Say("shift limit")}, {commissioning.ShortLimit, words.Say("15-minute limit")}} {
		most, known := f.Number(limit.key)
		if share, ok := measure.ShareOf(ppm, most); ok && known {
			all = append(all, words.Say("%s times the %s of %s ppm (%s)", about(share), limit.name, words.Number(f[limit.key].Value), f[limit.key].Source))
		}
	}
	return all
}

func (v RunView) freshAir(a Assumed) (Estimate, bool) {
	litres, ok := v.vapourOf(a["rate"])
	limit, known := v.Makeup.Figures.Number(commissioning.Limit)
	flow, solved := measure.DilutionAir(litres, limit, a["mixing"])
	if !ok || !known || !solved {
		return Estimate{}, false
	}
	return Estimate{
		Title: words.Say("Fresh air for a steady source"),
		Result: words.Say("About %s m³ of fresh air an hour thin %s mL of %s an hour down to the shift limit of %s ppm.",
			about(flow), about(a["rate"]), v.Unit.Makeup, words.Number(v.Makeup.Figures[commissioning.Limit].Value)),
		Assumes: words.Say("Assumes a steady state, clean air coming in and a mixing factor of %s. It says nothing of who breathes beside the source;"+
			" extraction at the source comes first. A caution, never a permission.", about(a["mixing"])),
		Formula: words.Say("litres of vapour an hour · 1000 ÷ ppm · mixing factor: steady-state dilution ventilation."),
	}, true
}

// about writes an estimate with the two digits that it is worth.
func about(x float64) words.Number {
	if x == 0 {
		return "0"
	}
	places := int(math.Floor(math.Log10(math.Abs(x)))) - 1
	if places >= 0 {
		scale := math.Pow(10, float64(places))
		return words.Number(strconv.FormatFloat(math.Round(x/scale)*scale, 'f', 0, 64))
	}
	return words.Number(strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(x, 'f', -places, 64), "0"), "."))
}
