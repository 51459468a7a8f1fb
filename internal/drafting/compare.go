package drafting

import (
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/diff"
)

// Line is one line of a comparison. Old and New are its numbers in the two
// texts, 0 where it is in one of them only.
type Line struct {
	Old, New int
	Text     string
}

// Part is a run of lines around a change.
type Part struct{ Lines []Line }

// Compare gives what differs between two texts, with three lines around each
// change; nothing when they are the same.
func Compare(before, after string) []Part {
	var parts []Part
	var was, is int
	for line := range strings.Lines(string(diff.Diff("a", []byte(before), "b", []byte(after)))) {
		line = strings.TrimSuffix(line, "\n")
		if ranges, ok := strings.CutPrefix(line, "@@ -"); ok {
			was, is = starts(ranges)
			parts = append(parts, Part{})
			continue
		}
		if len(parts) == 0 || line == "" {
			continue // the names of the two files
		}
		l := Line{Text: line[1:]}
		switch line[0] {
		case '-':
			l.Old = was
			was++
		case '+':
			l.New = is
			is++
		case ' ':
			l.Old, l.New = was, is
			was++
			is++
		default:
			continue // "\ No newline at end of file"
		}
		last := &parts[len(parts)-1]
		last.Lines = append(last.Lines, l)
	}
	return parts
}

// starts reads "12,7 +12,9 @@".
func starts(ranges string) (was, is int) {
	first, rest, _ := strings.Cut(ranges, " +")
	return number(first), number(rest)
}

func number(of string) int {
	digits, _, _ := strings.Cut(of, ",")
	digits, _, _ = strings.Cut(digits, " ")
	n, _ := strconv.Atoi(digits)
	return n
}
