package measure

// MolarVolume is the volume of one mole of gas at 25 °C and 101.325 kPa in
// litres, as the NIOSH conversion rounds it (24.4654 by the gas law, 0.06 %
// more).
const MolarVolume = 24.45

// VapourLitres is the vapour that so much liquid gives when all of it
// evaporates, in litres at 25 °C and 101.325 kPa: millilitres · density /
// molar mass · 24.45. Density in g/mL, molar mass in g/mol.
//
// Source: the gas law. All above zero; false otherwise.
func VapourLitres(millilitres, density, molarMass float64) (float64, bool) {
	if !allAboveZero(millilitres, density, molarMass) {
		return 0, false
	}
	return millilitres * density / molarMass * MolarVolume, true
}

// ClosedRoom is the concentration in ppm by volume when so many litres of vapour
// are mixed evenly into a closed room: litres / (cubic metres · 1000) · 10⁶.
// Vapour of solvents is heavier than air: near the floor and near the spill it
// is far denser than this. False above one million ppm, where there is no air.
func ClosedRoom(litres, cubicMetres float64) (float64, bool) {
	if !allAboveZero(litres, cubicMetres) || litres > 1000*cubicMetres {
		return 0, false
	}
	return litres / cubicMetres * 1000, true
}

// ShareOfLEL is a concentration in ppm as a share of the lower explosive limit,
// which data sheets give in percent by volume (1 % is 10 000 ppm).
func ShareOfLEL(ppm, lelPercent float64) (float64, bool) { return ShareOf(ppm, lelPercent*10_000) }

// ShareOf is a concentration as a share of an exposure limit, both in ppm.
func ShareOf(ppm, limit float64) (float64, bool) {
	if !atLeastZero(ppm) || !aboveZero(limit) {
		return 0, false
	}
	return ppm / limit, true
}

// MilligramsPerCubicMetre turns ppm by volume into mg/m³ at 25 °C and
// 101.325 kPa: ppm · molar mass / 24.45.
//
// Source: NIOSH conversion.
func MilligramsPerCubicMetre(ppm, molarMass float64) (float64, bool) {
	if !atLeastZero(ppm) || !aboveZero(molarMass) {
		return 0, false
	}
	return ppm * molarMass / MolarVolume, true
}

// The mixing factor of a room: 1 where air mixes perfectly, 10 where it hardly
// does (common practice).
const (
	leastMixing = 1
	mostMixing  = 10
)

// DilutionAir is the steady flow of fresh air in m³/h that keeps the vapour of a
// steady source at so many ppm: litres per hour · 1000 / ppm · mixing factor.
//
// Source: steady-state dilution ventilation, G = Q·C (also written Q' =
// 403·10⁶·SG·ER/(MW·C) cfm, the same equation in pints and feet at 70 °F). The
// mixing factor runs from 1 to 10; false outside it.
func DilutionAir(litresPerHour, ppm, mixing float64) (float64, bool) {
	if !allAboveZero(litresPerHour, ppm) || !(mixing >= leastMixing && mixing <= mostMixing) {
		return 0, false
	}
	return litresPerHour * 1000 / ppm * mixing, true
}
