package templates

import (
	"strconv"

	"settlemark/internal/drafting"
	"settlemark/internal/words"
)

func lineWord(l drafting.Line) string {
	switch {
	case l.New == 0:
		return "removed"
	case l.Old == 0:
		return "added"
	}
	return ""
}

func lineLookOf(l drafting.Line) string {
	if word := lineWord(l); word != "" {
		return "is-" + word
	}
	return "is-same"
}

func lineNumber(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// lineCounts says how much differs.
func lineCounts(diff []drafting.Part) string {
	added, removed := 0, 0
	for _, part := range diff {
		for _, l := range part.Lines {
			switch lineWord(l) {
			case "added":
				added++
			case "removed":
				removed++
			}
		}
	}
	return words.Count(added, "line") + " added, " + strconv.Itoa(removed) + " removed."
}
