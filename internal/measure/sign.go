package measure

import "strings"

// signs are the units that are printed otherwise than they are written in files.
var signs = map[string]string{"mPa.s": "mPa·s", "Pa.s": "Pa·s", "degC": "°C", "degF": "°F"}

// Sign writes a unit as it is printed: "mPa.s" reads "mPa·s".
func Sign(unit string) string {
	if sign, ok := signs[unit]; ok {
		return sign
	}
	return unit
}

// Signs writes the units of a sentence as they are printed.
func Signs(sentence string) string {
	for unit, sign := range signs {
		sentence = strings.ReplaceAll(sentence, " "+unit, " "+sign)
	}
	return sentence
}
