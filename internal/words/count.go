// Package words writes what several rooms say in the same words.
package words

import (
	"fmt"
	"strings"
)

// Count writes a number with its noun: "1 entry", "3 entries", "2 checks".
func Count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	if stem, ok := strings.CutSuffix(noun, "y"); ok {
		return fmt.Sprintf("%d %sies", n, stem)
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
