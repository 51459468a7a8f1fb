package commissioning

import (
	"bytes"
	"errors"
	"io"
	"regexp"
	"strconv"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// maxProcedure bounds a procedure file; a long one has some tens of KiB.
const maxProcedure = 1 << 20

// parseYAML reads one YAML document into the same tree as JSON. Anchors,
// aliases, merge keys and tags are refused: a procedure says what it says
// where it stands, and nothing in it can swell.
func parseYAML(data []byte) (*node, error) {
	if len(data) > maxProcedure {
		return nil, (&node{line: 1}).refuse("$", "expected at most %d MiB", maxProcedure>>20)
	}
	if !utf8.Valid(data) {
		line := 1 + bytes.Count(data[:firstInvalid(data)], []byte("\n"))
		return nil, (&node{line: line}).refuse("$", "expected UTF-8")
	}
	d := yaml.NewDecoder(bytes.NewReader(data))
	var document yaml.Node
	if err := d.Decode(&document); err != nil {
		return nil, explainYAML(err)
	}
	root, err := fromYAML(document.Content[0], nil, "")
	if err != nil {
		return nil, err
	}
	var second yaml.Node
	switch err := d.Decode(&second); {
	case errors.Is(err, io.EOF):
		return root, nil
	case err != nil:
		return nil, explainYAML(err)
	}
	return nil, (&node{line: second.Line}).refuse("$", "expected one document, found a second")
}

func firstInvalid(data []byte) int {
	at := 0
	for at < len(data) {
		r, size := utf8.DecodeRune(data[at:])
		if r == utf8.RuneError && size == 1 {
			break
		}
		at += size
	}
	return at
}

var yamlLine = regexp.MustCompile(`line (\d+)`)

func explainYAML(err error) error {
	if errors.Is(err, io.EOF) {
		return (&node{line: 1}).refuse("$", "expected a procedure, found nothing")
	}
	line := 1
	if found := yamlLine.FindStringSubmatch(err.Error()); found != nil {
		line, _ = strconv.Atoi(found[1])
	}
	return (&node{line: line}).refuse("$", "expected valid YAML")
}

func fromYAML(y *yaml.Node, parent *node, key string) (*node, error) {
	n := &node{line: y.Line, text: y.Value}
	if parent != nil {
		parent.add(key, n)
	}
	if y.Kind == yaml.AliasNode || y.Anchor != "" {
		return nil, n.refuse(n.path(), "expected no anchor or alias, write the value out")
	}
	if y.Style&yaml.TaggedStyle != 0 {
		return nil, n.refuse(n.path(), "expected no tag")
	}
	switch y.Kind {
	case yaml.MappingNode:
		n.shape = isObject
		return n, fieldsFromYAML(y, n)
	case yaml.SequenceNode:
		n.shape = isList
		for _, item := range y.Content {
			if _, err := fromYAML(item, n, ""); err != nil {
				return nil, err
			}
		}
		return n, nil
	}
	switch y.ShortTag() {
	case "!!int", "!!float":
		n.shape = isNumber
	case "!!bool":
		n.shape = isBool
	case "!!null":
		n.shape = isNull
	default:
		n.shape = isText
	}
	return n, nil
}

func fieldsFromYAML(y *yaml.Node, n *node) error {
	seen := map[string]bool{}
	for i := 0; i < len(y.Content); i += 2 {
		name, value := y.Content[i], y.Content[i+1]
		here := &node{parent: n, key: name.Value, line: name.Line}
		switch {
		case name.Kind != yaml.ScalarNode || name.ShortTag() != "!!str" || name.Anchor != "":
			return here.refuse(n.path(), "expected the name of a field")
		case seen[name.Value]:
			return here.refuse(here.path(), "expected this field only once")
		}
		seen[name.Value] = true
		if _, err := fromYAML(value, n, name.Value); err != nil {
			return err
		}
	}
	return nil
}
