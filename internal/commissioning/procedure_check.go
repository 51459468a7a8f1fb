package commissioning

import (
	"errors"
	"regexp"
	"slices"
	"strconv"

	"settlemark/internal/problem"
)

// Refusal is one reason why a text is no procedure that can be judged, with its
// line and its path.
type Refusal struct {
	Line         int
	Path, Reason string
}

// CheckProcedure gives every refusal in a text, in the order of its lines; none
// for a procedure that ParseProcedure takes. A part that can't be read hides
// what else is wrong within it, and what refers to it is not refused as well.
func CheckProcedure(yaml []byte) []Refusal {
	root, err := parseYAML(yaml)
	if err != nil {
		return []Refusal{refusalOf(err)}
	}
	d := &reader{}
	readProcedure(d, root)
	if d.err != nil && len(d.kept) == 0 {
		return []Refusal{refusalOf(d.err)}
	}
	all := make([]Refusal, len(d.kept))
	for i, err := range d.kept {
		all[i] = refusalOf(err)
	}
	slices.SortStableFunc(all, func(a, b Refusal) int { return a.Line - b.Line })
	return all
}

// said is how every refusal in YAML is written.
var said = regexp.MustCompile(`(?s)^line (\d+): (\$.*?): (expected .*)$`)

func refusalOf(err error) Refusal {
	var p *problem.Error
	if !errors.As(err, &p) {
		return Refusal{1, "$", err.Error()}
	}
	found := said.FindStringSubmatch(p.Sentence.String())
	if found == nil {
		return Refusal{1, p.Field, p.Sentence.String()}
	}
	line, _ := strconv.Atoi(found[1])
	return Refusal{line, found[2], found[3]}
}
