package commissioning

import (
	"strings"
	"unicode"
)

// SameReading says whether two people read the same code off a print sample,
// spaces and letter case left aside.
func SameReading(a, b string) bool {
	return strings.EqualFold(withoutSpace(a), withoutSpace(b))
}

func withoutSpace(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, s)
}
