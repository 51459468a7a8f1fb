package commissioning

import (
	"errors"
	"slices"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Refusal is one reason why a text is no procedure that can be judged, with its
// line and its path.
type Refusal struct {
	Line   int
	Path   string
	Reason words.Text
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

func refusalOf(err error) Refusal {
	var m misfit
	var p *problem.Error
	switch {
	case errors.As(err, &m):
		return m.Refusal
	case errors.As(err, &p):
		return Refusal{1, p.Field, p.Sentence}
	}
	return Refusal{1, "$", words.Plain(err.Error())}
}
