package commissioning

import (
	"errors"
	"io"
	"strconv"
	"unicode"

	"github.com/go-json-experiment/json/jsontext"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// maxDocument bounds what is read into memory at once.
const maxDocument = 64 << 20

// shape is what a node of a document is.
type shape string

const (
	isObject shape = "an object"
	isList   shape = "a list"
	isText   shape = "text"
	isNumber shape = "a number"
	isBool   shape = "true or false"
	isNull   shape = "null"
)

// name says the shape in the middle of a sentence.
func (s shape) name() words.Text {
	switch s {
	case isObject:
		return words.Say("an object")
	case isList:
		return words.Say("a list")
	case isText:
		return words.Say("text")
	case isNumber:
		return words.Say("a number")
	case isBool:
		return words.Say("true or false")
	}
	return words.Plain(string(s))
}

// node is one value of a JSON or YAML document. Scalars keep their text, so
// that 4.50 stays "4.50".
type node struct {
	shape  shape
	text   string
	items  []*node // of a list, or the fields of an object
	parent *node
	key    string // in an object
	index  int    // in a list
	line   int    // in a YAML document, else 0
	read   bool   // somebody asked for it; what nobody asks for is refused
}

// add hangs a child under n, by its key or by its place.
func (n *node) add(key string, child *node) {
	child.parent, child.key, child.index = n, key, len(n.items)
	n.items = append(n.items, child)
}

// field finds a field of an object, nil when there is none.
func (n *node) field(key string) *node {
	for _, item := range n.items {
		if item.key == key {
			return item
		}
	}
	return nil
}

// path says where the node stands: $.entries[3].observed_at.
func (n *node) path() string {
	switch {
	case n.parent == nil:
		return "$"
	case n.parent.shape == isList:
		return n.parent.path() + "[" + strconv.Itoa(n.index) + "]"
	}
	return n.parent.path() + pathStep(n.key)
}

func pathStep(key string) string {
	for i, r := range key {
		if r != '_' && !unicode.IsLetter(r) && (i == 0 || !unicode.IsDigit(r)) {
			return "[" + strconv.Quote(key) + "]"
		}
	}
	if key == "" {
		return `[""]`
	}
	return "." + key
}

// refuse makes the one-line error "path: expected …", with the line in front
// where the document is YAML.
func (n *node) refuse(path, format string, args ...any) error {
	m := misfit{Refusal: Refusal{n.line, path, words.Say(format, args...)}}
	if m.problem = problem.On(path, "%s: %s", path, m.Reason); n.line > 0 {
		m.problem = problem.On(path, "line %d: %s: %s", n.line, path, m.Reason)
	}
	return m
}

// misfit is a refusal with what it was made of.
type misfit struct {
	Refusal
	problem *problem.Error
}

func (m misfit) Error() string { return m.problem.Error() }

func (m misfit) Unwrap() error { return m.problem }

// parseJSON reads one JSON value, strictly: valid UTF-8, no field twice,
// nothing after it.
func parseJSON(r io.Reader) (*node, error) {
	limited := &io.LimitedReader{R: r, N: maxDocument + 1}
	d := jsontext.NewDecoder(limited)
	root, err := readJSON(d, nil, "")
	if err == nil {
		if _, err = d.ReadToken(); errors.Is(err, io.EOF) {
			return root, nil
		}
		if err == nil {
			return nil, root.refuse("$", "expected nothing after the first JSON value")
		}
	}
	if limited.N == 0 {
		return nil, (&node{}).refuse("$", "expected at most %d MiB", maxDocument>>20)
	}
	return nil, explain(err)
}

// explain turns the decoder's refusal into ours; other errors pass.
func explain(err error) error {
	var syntax *jsontext.SyntacticError
	if !errors.As(err, &syntax) {
		if errors.Is(err, io.EOF) {
			return (&node{}).refuse("$", "expected JSON, found nothing")
		}
		return err
	}
	path := "$"
	for step := range syntax.JSONPointer.Tokens() {
		if _, err := strconv.Atoi(step); err == nil {
			path += "[" + step + "]"
			continue
		}
		path += pathStep(step)
	}
	if errors.Is(err, jsontext.ErrDuplicateName) {
		return (&node{}).refuse(path, "expected this field only once")
	}
	return (&node{}).refuse(path, "expected valid JSON in UTF-8, found a fault at byte %d", syntax.ByteOffset)
}

// readJSON reads one value and hangs it under parent.
func readJSON(d *jsontext.Decoder, parent *node, key string) (*node, error) {
	token, err := d.ReadToken()
	if err != nil {
		return nil, err
	}
	n := &node{}
	if parent != nil {
		parent.add(key, n)
	}
	switch token.Kind() {
	case '{':
		n.shape = isObject
		return n, readObject(d, n)
	case '[':
		n.shape = isList
		for d.PeekKind() != ']' {
			if _, err := readJSON(d, n, ""); err != nil {
				return nil, err
			}
		}
		_, err := d.ReadToken()
		return n, err
	case '"':
		n.shape = isText
	case '0':
		n.shape = isNumber
	case 't', 'f':
		n.shape = isBool
	default:
		n.shape = isNull
	}
	n.text = token.String()
	return n, nil
}

func readObject(d *jsontext.Decoder, n *node) error {
	for d.PeekKind() != '}' {
		name, err := d.ReadToken()
		if err != nil {
			return err
		}
		if _, err := readJSON(d, n, name.String()); err != nil {
			return err
		}
	}
	_, err := d.ReadToken()
	return err
}
