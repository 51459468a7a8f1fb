package measure

import "math"

// MakeUpShare is the share of make-up in a blend that has come down from one
// viscosity to another: x = ln(from/to) / ln(from/makeUp).
//
// Source: logarithmic mixing, ln η = Σ xᵢ ln ηᵢ (Arrhenius, Kendall), taken by
// volume. All three viscosities in the same unit and at the same temperature.
// Range: makeUp < to < from; false outside it. Real blends stray from the rule,
// and the more so the further the two fluids lie apart.
func MakeUpShare(from, to, makeUp float64) (float64, bool) {
	if !allAboveZero(from, to, makeUp) || makeUp >= to || to >= from {
		return 0, false
	}
	return math.Log(from/to) / math.Log(from/makeUp), true
}

// MakeUpToAdd is the volume of make-up that brings so much fluid from one
// viscosity to another: volume · x/(1 − x) with x of MakeUpShare, in the unit of
// the volume.
func MakeUpToAdd(volume, from, to, makeUp float64) (float64, bool) {
	share, ok := MakeUpShare(from, to, makeUp)
	if !ok || !aboveZero(volume) {
		return 0, false
	}
	return volume * share / (1 - share), true
}
