package templates

import (
	"strconv"

	"settlemark/internal/drafting"
	"settlemark/internal/words"
)

func lineWord(l drafting.Line) words.Text {
	switch {
	case l.New == 0:
		return words.Say("removed")
	case l.Old == 0:
		return words.Say("added")
	}
	return words.Text{}
}

func lineLookOf(l drafting.Line) string {
	switch {
	case l.New == 0:
		return "is-removed"
	case l.Old == 0:
		return "is-added"
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
func lineCounts(diff []drafting.Part) words.Text {
	added, removed := 0, 0
	for _, part := range diff {
		for _, l := range part.Lines {
			switch {
			case l.New == 0:
				removed++
			case l.Old == 0:
				added++
			}
		}
	}
	return words.Say("%s, %d removed.", words.Many(added, "%d line added", "%d lines added"), removed)
}
