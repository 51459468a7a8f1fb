package drafting

import (
	"strings"

	"go.yaml.in/yaml/v3"
)

// Value is what a field says; nil where there is nothing.
type Value = *yaml.Node

// Field is what a form wants one field of a mapping to be: a value, or a
// mapping with fields of its own. Neither takes the field away.
type Field struct {
	Key    string
	Value  Value
	Fields []Field
}

// Words is a value that is always read as text.
func Words(text string) Value {
	return &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: oneLine(text)}
}

// Figure is a number, a duration, or true or false, written as it was typed; it
// stays in quotes where it stood in quotes.
func Figure(text string) Value {
	return &yaml.Node{Kind: yaml.ScalarNode, Value: oneLine(text)}
}

// Whole is a whole number, or true or false, and never in quotes.
func Whole(text string) Value {
	n := Figure(text)
	n.Tag = n.ShortTag()
	return n
}

// List is a list of texts, nil for none.
func List(texts []string) Value {
	var items []Value
	for _, text := range texts {
		items = append(items, Words(text))
	}
	return Items(items)
}

// Items is a list of values, nil for none.
func Items(items []Value) Value {
	if len(items) == 0 {
		return nil
	}
	return &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Style: yaml.FlowStyle, Content: items}
}

// Item is a mapping in brackets.
func Item(fields ...Field) Value {
	n := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Style: yaml.FlowStyle}
	for _, f := range fields {
		if v := f.node(); v != nil {
			n.Content = append(n.Content, Words(f.Key), v)
		}
	}
	return n
}

// node is the field's value as a whole, nil when there is nothing in it.
func (f Field) node() *yaml.Node {
	if f.Value != nil {
		return f.Value
	}
	if n := Item(f.Fields...); len(n.Content) > 0 {
		return n
	}
	return nil
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// Put brings the fields of the mapping at a path to what they are wanted to be.
// Fields that say so already, and fields that are not named, stay as they are.
func (s *Sheet) Put(path string, fields ...Field) error {
	for _, f := range fields {
		if err := s.put(path, f); err != nil {
			return err
		}
	}
	return nil
}

func (s *Sheet) put(path string, f Field) error {
	if !s.Has(path) {
		return ErrByHand
	}
	own := strings.TrimPrefix(path+"."+f.Key, ".")
	p, found := s.find(own)
	want := f.node()
	switch {
	case !found && want == nil, found && want != nil && f.Value != nil && equal(p.value, want):
		return nil
	case found && p.value.Kind == yaml.MappingNode && f.Value == nil && (want != nil || s.others(own, f.Fields)):
		return s.Put(own, f.Fields...)
	case !found:
		return s.insert(path, f.Key, want)
	case want == nil:
		return s.remove(path, p)
	}
	return s.replace(path, p, want)
}

// others says whether the mapping has fields that the form does not name.
func (s *Sheet) others(path string, fields []Field) bool {
	named := map[string]bool{}
	for _, f := range fields {
		named[f.Key] = true
	}
	for _, key := range s.Keys(path) {
		if !named[key] {
			return true
		}
	}
	return false
}

// equal compares with what is wanted: a number may also be written as text.
func equal(have, want *yaml.Node) bool {
	if have.Kind == yaml.ScalarNode && want.Kind == yaml.ScalarNode && want.Tag == "" {
		return have.Value == want.Value
	}
	return same(have, want)
}

func (s *Sheet) insert(path, key string, want *yaml.Node) error {
	p, _ := s.find(path)
	tree := copied(s.root)
	mapping := mirror(tree, path)
	mapping.Content = append(mapping.Content, Words(key), want)
	text, err := inline(want, p.flow || flowing(p.value))
	if err != nil {
		return err
	}
	if flowing(p.value) {
		at := s.flowEnd(s.at(p.value)) - 1
		if at < 0 {
			return ErrByHand
		}
		at = trimmed(s.text, 0, at)
		between := ", "
		if len(p.value.Content) == 0 {
			between = ""
		}
		return s.take(s.text[:at]+between+key+": "+text+s.text[at:], tree)
	}
	if len(p.value.Content) == 0 {
		return ErrByHand
	}
	indent := "\n" + strings.Repeat(" ", p.value.Content[0].Column-1)
	at := s.lastLine(s.at(p.value), p.limit)
	return s.take(s.text[:at]+indent+key+": "+text+s.text[at:], tree)
}

func (s *Sheet) remove(path string, p place) error {
	tree := copied(s.root)
	mapping := mirror(tree, path)
	mapping.Content = append(mapping.Content[:p.index], mapping.Content[p.index+2:]...)
	from, to := s.at(p.key), s.end(p)
	switch {
	case p.flow && p.index+2 < len(p.parent.Content):
		to = s.at(p.parent.Content[p.index+2])
	case p.flow && p.index > 0:
		from = trimmed(s.text, 0, from)
		from = trimmed(s.text, 0, len(strings.TrimSuffix(s.text[:from], ",")))
	case !p.flow:
		line := s.lineStart(p.key.Line)
		if strings.TrimSpace(s.text[line:from]) != "" || len(p.parent.Content) == 2 {
			return ErrByHand
		}
		from, to = line, s.lastLine(from, p.limit)
		if to < len(s.text) {
			to++ // its line break
		}
	}
	if from > to {
		return ErrByHand
	}
	return s.take(s.text[:from]+s.text[to:], tree)
}

func (s *Sheet) replace(path string, p place, want *yaml.Node) error {
	if p.value.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0 {
		return ErrByHand
	}
	tree, fresh := copied(s.root), copied(want)
	quoted := p.value.Style & (yaml.DoubleQuotedStyle | yaml.SingleQuotedStyle)
	if quoted != 0 && (fresh.Tag == "" || fresh.Tag == "!!str") && fresh.Kind == yaml.ScalarNode {
		fresh.Tag, fresh.Style = "!!str", quoted
	}
	mirror(tree, path).Content[p.index+1] = fresh
	text, err := s.written(p, fresh)
	if err != nil {
		return err
	}
	from, to := s.at(p.value), s.end(p)
	if p.value.ShortTag() == "!!null" && p.value.Value == "" {
		colon := strings.IndexByte(s.text[s.at(p.key):], ':')
		from = s.at(p.key) + colon + 1
		to, text = from, " "+text
	}
	if from > to {
		return ErrByHand
	}
	return s.take(s.text[:from]+text+s.text[to:], tree)
}

// written is a value as it stands in place of another: a list with a line for
// each item stays one.
func (s *Sheet) written(p place, n *yaml.Node) (string, error) {
	if n.Kind != yaml.SequenceNode || p.value.Kind != yaml.SequenceNode || p.flow || flowing(p.value) {
		return inline(n, p.flow)
	}
	var lines []string
	for _, item := range n.Content {
		text, err := inline(item, false)
		if err != nil {
			return "", err
		}
		lines = append(lines, "- "+text)
	}
	return strings.Join(lines, "\n"+strings.Repeat(" ", p.value.Column-1)), nil
}

// inline writes a value on one line; within brackets more has to be quoted.
func inline(n *yaml.Node, flow bool) (string, error) {
	whole := n
	if flow {
		whole = &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Style: yaml.FlowStyle, Content: []*yaml.Node{n}}
	}
	text, err := yaml.Marshal(whole)
	line := strings.TrimSuffix(string(text), "\n")
	if err != nil || strings.Contains(line, "\n") {
		return "", ErrByHand
	}
	if flow {
		line = strings.TrimSuffix(strings.TrimPrefix(line, "["), "]")
	}
	return line, nil
}
