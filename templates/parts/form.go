package parts

import (
	"errors"
	"net/url"
	"strconv"

	"github.com/a-h/templ"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Form is what a form shows: what was typed, or what stands, and what is wrong
// with it. Passwords are never put back.
type Form struct {
	Values url.Values
	Err    error // the refusal, nil when there is none
}

// Value gives what a field shows.
func (f Form) Value(name string) string { return f.Values.Get(name) }

// Checked says whether a box of that name and value is ticked.
func (f Form) Checked(name, value string) bool {
	for _, v := range f.Values[name] {
		if v == value {
			return true
		}
	}
	return false
}

// Wrong gives the sentence that belongs to one field, an empty one when it is right.
func (f Form) Wrong(name string) words.Text {
	for _, p := range f.Problems() {
		if p.Field == name && name != "" {
			return p.Sentence
		}
	}
	return words.Text{}
}

// Problems gives every refusal of the form, in order. Several are joined with
// errors.Join.
func (f Form) Problems() []*problem.Error { return problemsOf(f.Err) }

func problemsOf(err error) []*problem.Error {
	if err == nil {
		return nil
	}
	if several, ok := err.(interface{ Unwrap() []error }); ok {
		var out []*problem.Error
		for _, e := range several.Unwrap() {
			out = append(out, problemsOf(e)...)
		}
		return out
	}
	var p *problem.Error
	if errors.As(err, &p) {
		return []*problem.Error{p}
	}
	return nil
}

// Input is one field of a form.
type Input struct {
	Name         string
	Label        words.Text
	Hint         words.Text // one line under the label
	Type         string     // "text" when empty
	Mode         string     // inputmode
	Autocomplete string     // "off" when empty
	Required     bool
	Mono         bool // codes, lots, tags
	MaxLength    int
	Rows         int // above 0: a text area
	Options      []Option
}

// Option of a choice.
type Option struct {
	Value string
	Label words.Text
}

func (in Input) kind() string {
	if in.Type == "" {
		return "text"
	}
	return in.Type
}

func (in Input) complete() string {
	if in.Autocomplete == "" {
		return "off"
	}
	return in.Autocomplete
}

// described lists the ids of the hint and of the sentence of what is wrong.
func (in Input) described(wrong words.Text) string {
	ids := ""
	if !wrong.Empty() {
		ids = "wrong-" + in.Name
	}
	if !in.Hint.Empty() {
		if ids != "" {
			ids += " "
		}
		ids += "hint-" + in.Name
	}
	return ids
}

func (in Input) attributes(wrong words.Text) templ.Attributes {
	a := templ.Attributes{
		"id": "field-" + in.Name, "name": in.Name, "required": in.Required,
	}
	if in.kind() != "file" {
		a["autocomplete"] = in.complete()
	}
	if ids := in.described(wrong); ids != "" {
		a["aria-describedby"] = ids
	}
	if in.Mode != "" {
		a["inputmode"] = in.Mode
	}
	if in.MaxLength > 0 {
		a["maxlength"] = strconv.Itoa(in.MaxLength)
	}
	if !wrong.Empty() {
		a["aria-invalid"] = "true"
	}
	return a
}
