package drafting

import (
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Add puts an item into the list at a path, before the item that stands at
// index now. Lists with a line for each item only.
func (s *Sheet) Add(path string, index int, item *yaml.Node) error {
	p, found := s.find(path)
	if !found || p.value.Kind != yaml.SequenceNode || flowing(p.value) || index < 0 || index > len(p.value.Content) || len(p.value.Content) == 0 {
		return ErrByHand
	}
	tree := copied(s.root)
	list := mirror(tree, path)
	list.Content = append(list.Content[:index:index], append([]*yaml.Node{item}, list.Content[index:]...)...)
	indent := strings.Repeat(" ", p.value.Column-1)
	text, err := block(item, indent)
	if err != nil {
		return err
	}
	if index == 0 {
		at := s.lineStart(p.value.Content[0].Line)
		return s.take(s.text[:at]+indent+"- "+text+"\n"+s.text[at:], tree)
	}
	_, at := s.item(path, index-1)
	gap := "\n"
	if item.Style&yaml.FlowStyle == 0 {
		gap = "\n\n" // a section stands apart
	}
	return s.take(s.text[:at]+gap+indent+"- "+text+s.text[at:], tree)
}

// block writes an item: in brackets on one line, or one line for each field,
// and a line for each item of a list of mappings.
func block(n *yaml.Node, indent string) (string, error) {
	if n.Kind != yaml.MappingNode || flowing(n) {
		return inline(n, false)
	}
	var lines []string
	for i := 0; i < len(n.Content); i += 2 {
		key, value := n.Content[i].Value, n.Content[i+1]
		if value.Kind != yaml.SequenceNode || flowing(value) {
			text, err := inline(value, false)
			if err != nil {
				return "", err
			}
			lines = append(lines, key+": "+text)
			continue
		}
		lines = append(lines, key+":")
		for _, item := range value.Content {
			text, err := inline(item, false)
			if err != nil {
				return "", err
			}
			lines = append(lines, "  - "+text)
		}
	}
	return strings.Join(lines, "\n"+indent+"  "), nil
}

// Section is a new section with one line to confirm.
func Section(title, id, text string) *yaml.Node {
	steps := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Content: []*yaml.Node{Step(id, text)}}
	return &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Content: []*yaml.Node{Words("title"), Words(title), Words("steps"), steps}}
}

// Step is a new line to confirm.
func Step(id, text string) *yaml.Node {
	return Item(Field{Key: "id", Value: Words(id)}, Field{Key: "ask", Value: Words("confirm")}, Field{Key: "text", Value: Words(text)})
}

// Remove takes an item out of the list at a path; the last one stays.
func (s *Sheet) Remove(path string, index int) error {
	p, found := s.find(path)
	if !found || p.value.Kind != yaml.SequenceNode || flowing(p.value) || index < 0 || index >= len(p.value.Content) || len(p.value.Content) < 2 {
		return ErrByHand
	}
	tree := copied(s.root)
	list := mirror(tree, path)
	list.Content = append(list.Content[:index], list.Content[index+1:]...)
	from, to := s.item(path, index)
	if to < len(s.text) {
		to++ // its line break
	}
	if strings.HasSuffix(s.text[:from], "\n\n") && strings.HasPrefix(s.text[to:], "\n") {
		to++
	}
	return s.take(s.text[:from]+s.text[to:], tree)
}

// Move exchanges an item of the list at a path with the one above it, or below.
func (s *Sheet) Move(path string, index int, down bool) error {
	if !down {
		index--
	}
	p, found := s.find(path)
	if !found || p.value.Kind != yaml.SequenceNode || flowing(p.value) || index < 0 || index+1 >= len(p.value.Content) {
		return ErrByHand
	}
	tree := copied(s.root)
	list := mirror(tree, path)
	list.Content[index], list.Content[index+1] = list.Content[index+1], list.Content[index]
	a, aEnd := s.item(path, index)
	b, bEnd := s.item(path, index+1)
	if a > aEnd || aEnd > b || b > bEnd {
		return ErrByHand
	}
	return s.take(s.text[:a]+s.text[b:bEnd]+s.text[aEnd:b]+s.text[a:aEnd]+s.text[bEnd:], tree)
}

// item is where the lines of an item begin, with the comment lines right above
// it, and where they end.
func (s *Sheet) item(path string, index int) (from, to int) {
	p, _ := s.find(path + "." + strconv.Itoa(index))
	from = s.lineStart(p.value.Line)
	to = s.lastLine(from, p.limit)
	indent := strings.Repeat(" ", max(p.value.Column-3, 0)) + "#"
	for from > 0 {
		above := strings.LastIndexByte(s.text[:from-1], '\n') + 1
		if !strings.HasPrefix(s.text[above:from], indent) {
			break
		}
		from = above
	}
	return from, to
}
