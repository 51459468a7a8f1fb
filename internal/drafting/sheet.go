// Package drafting changes the text of a procedure one value at a time, as a
// form does: only the bytes of that value change, so comments, order and the
// way in which the rest is written stay. It also compares two texts.
//
// Each change is made twice, in the text and in the tree of yaml nodes, and
// taken only when the text, read anew, gives that tree. What is written in a
// way that this can't follow is refused with ErrByHand. Whether a text is a
// procedure is for commissioning to say; nothing here asks.
//
// The package must not know HTTP nor SQL.
package drafting

import (
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"settlemark/internal/problem"
)

// ErrByHand refuses a change that the form can't make.
var ErrByHand error = problem.New(problem.Invalid, "This is written in a way that the form can't change. Change it in the YAML.")

// Sheet is the text of a draft with its tree.
type Sheet struct {
	text  string
	lines []int // where each line begins
	root  *yaml.Node
}

// Open reads a text that is one YAML mapping; anything else is refused, and can
// only be edited as YAML.
func Open(text string) (*Sheet, error) {
	var document yaml.Node
	if err := yaml.Unmarshal([]byte(text), &document); err != nil {
		return nil, problem.New(problem.Invalid, "The form opens once this can be read as YAML. Change it in the YAML.")
	}
	if len(document.Content) != 1 || document.Content[0].Kind != yaml.MappingNode {
		return nil, problem.New(problem.Invalid, "The form opens once the text is a list of fields, such as title: Return to service. Change it in the YAML.")
	}
	s := &Sheet{text: text, lines: []int{0}, root: document.Content[0]}
	for i, r := range text {
		if r == '\n' {
			s.lines = append(s.lines, i+1)
		}
	}
	return s, nil
}

// Text is what the sheet says now.
func (s *Sheet) Text() string { return s.text }

// place is a value in the tree: its key where it stands in a mapping, and the
// offset of the line on which what follows it begins.
type place struct {
	parent, key, value *yaml.Node
	index              int // of the key, or of the item, in the parent's content
	limit              int
	flow               bool // the parent is written in brackets
}

// find gives the place of a path such as sections.2.steps.0.text.
func (s *Sheet) find(path string) (place, bool) {
	p := place{value: s.root, limit: len(s.text)}
	for step := range strings.SplitSeq(path, ".") {
		if path == "" {
			break
		}
		i := child(p.value, step)
		if i < 0 {
			return place{}, false
		}
		p = s.within(p, i)
	}
	return p, true
}

// child gives the index in the content: of a key, or of an item.
func child(n *yaml.Node, step string) int {
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			if n.Content[i].Value == step {
				return i
			}
		}
	case yaml.SequenceNode:
		if i, err := strconv.Atoi(step); err == nil && i >= 0 && i < len(n.Content) {
			return i
		}
	}
	return -1
}

func (s *Sheet) within(p place, i int) place {
	in := place{parent: p.value, value: p.value.Content[i], index: i, limit: p.limit, flow: p.flow || flowing(p.value)}
	next := i + 1
	if p.value.Kind == yaml.MappingNode {
		in.key, in.value = p.value.Content[i], p.value.Content[i+1]
		next++
	}
	if !in.flow && next < len(p.value.Content) {
		in.limit = s.lineStart(p.value.Content[next].Line)
	}
	return in
}

func flowing(n *yaml.Node) bool { return n.Style&yaml.FlowStyle != 0 }

// lineStart is where a line begins, the end of the text where there is none.
func (s *Sheet) lineStart(line int) int {
	if line < 1 || line > len(s.lines) {
		return len(s.text)
	}
	return s.lines[line-1]
}

// at is the offset of a node; yaml counts columns in characters.
func (s *Sheet) at(n *yaml.Node) int {
	at := s.lineStart(n.Line)
	for range n.Column - 1 {
		if at >= len(s.text) {
			break
		}
		_, size := utf8At(s.text, at)
		at += size
	}
	return at
}

// Value gives the scalar at a path, "" where there is none.
func (s *Sheet) Value(path string) string {
	p, found := s.find(path)
	if !found || p.value.Kind != yaml.ScalarNode || p.value.ShortTag() == "!!null" {
		return ""
	}
	return p.value.Value
}

// Values gives the scalars of the list at a path.
func (s *Sheet) Values(path string) []string {
	var all []string
	if p, found := s.find(path); found && p.value.Kind == yaml.SequenceNode {
		for _, n := range p.value.Content {
			if n.Kind == yaml.ScalarNode {
				all = append(all, n.Value)
			}
		}
	}
	return all
}

// Len is how many items the list at a path has.
func (s *Sheet) Len(path string) int {
	if p, found := s.find(path); found && p.value.Kind == yaml.SequenceNode {
		return len(p.value.Content)
	}
	return 0
}

// Has says whether there is a mapping at a path.
func (s *Sheet) Has(path string) bool {
	p, found := s.find(path)
	return found && p.value.Kind == yaml.MappingNode
}

// Keys gives the keys of the mapping at a path, in order.
func (s *Sheet) Keys(path string) []string {
	var all []string
	if p, found := s.find(path); found && p.value.Kind == yaml.MappingNode {
		for i := 0; i < len(p.value.Content); i += 2 {
			all = append(all, p.value.Content[i].Value)
		}
	}
	return all
}

// Line is the line on which the value at a path begins, 0 where there is none.
func (s *Sheet) Line(path string) int {
	p, found := s.find(path)
	if !found {
		return 0
	}
	return p.value.Line
}

// Excerpt is the lines of a field or an item as they are written.
func (s *Sheet) Excerpt(path string) string {
	p, found := s.find(path)
	if !found || path == "" {
		return s.text
	}
	line := p.value.Line
	if p.key != nil {
		line = p.key.Line
	}
	from, to := s.lineStart(line), s.end(p)
	if rest := strings.IndexByte(s.text[to:], '\n'); rest >= 0 {
		to += rest
	} else {
		to = len(s.text)
	}
	return s.text[min(from, to):to]
}

// take makes the new text the sheet's, when it gives the wanted tree.
func (s *Sheet) take(text string, want *yaml.Node) error {
	made, err := Open(text)
	if err != nil || !same(made.root, want) {
		return ErrByHand
	}
	*s = *made
	return nil
}

// same says whether two trees say the same, however they are written.
func same(a, b *yaml.Node) bool {
	return a.Kind == b.Kind && a.ShortTag() == b.ShortTag() && a.Value == b.Value && a.Anchor == b.Anchor &&
		slices.EqualFunc(a.Content, b.Content, same)
}

// copied is the tree again, to be changed.
func copied(n *yaml.Node) *yaml.Node {
	c := *n
	c.Content = make([]*yaml.Node, len(n.Content))
	for i, item := range n.Content {
		c.Content[i] = copied(item)
	}
	return &c
}

// mirror finds in a copy what stands at the path in the sheet.
func mirror(root *yaml.Node, path string) *yaml.Node {
	n := root
	for step := range strings.SplitSeq(path, ".") {
		if path == "" {
			break
		}
		i := child(n, step)
		if n.Kind == yaml.MappingNode {
			i++
		}
		n = n.Content[i]
	}
	return n
}
