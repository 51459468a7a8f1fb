package measure

import "math"

// The estimates of this package (flush, blend, vapour, cup) are advice beside a
// checklist. They work in binary floating point, never decide anything, and
// answer false where their formula does not hold.

// Flush is one flush of a circuit: Left stayed behind at the drain before it,
// Added came in. Both in the same unit of volume.
type Flush struct{ Left, Added float64 }

// Residual is the share of the old fluid that is left after the flushes:
// Π left/(left + added). It takes each flush as mixed through and through, so a
// pocket that the flush does not reach makes it too low.
//
// Source: the washing formula of textbooks, fₙ = (h/(h+V))ⁿ (from memory).
// Result from 0 to 1. False for a volume below zero, or none at all.
func Residual(flushes ...Flush) (float64, bool) {
	share := 1.0
	for _, f := range flushes {
		if !atLeastZero(f.Left) || !atLeastZero(f.Added) || f.Left+f.Added == 0 {
			return 0, false
		}
		share *= f.Left / (f.Left + f.Added)
	}
	return share, true
}

func aboveZero(x float64) bool { return x > 0 && !math.IsInf(x, 1) }

func atLeastZero(x float64) bool { return x == 0 || aboveZero(x) }

func allAboveZero(numbers ...float64) bool {
	for _, x := range numbers {
		if !aboveZero(x) {
			return false
		}
	}
	return true
}
