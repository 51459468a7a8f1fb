package handlers

import (
	"net/url"
	"slices"
	"strings"

	"settlemark/internal/drafting"
	"settlemark/internal/words"
	"settlemark/templates"
	"settlemark/templates/parts"
)

// draftField is one field of a part: how it is asked for, and how it stands in
// the text. Its name is its path below the part.
type draftField struct {
	parts.Input
	kind  fieldKind
	ticks []parts.Option
}

type fieldKind int

const (
	wordsField   fieldKind = iota // always text
	figureField                   // a number or a duration, as typed
	wholeField                    // a whole number, or true or false
	flagField                     // a box to tick
	listField                     // a text for each line
	ticksField                    // some of a list
	countedField                  // a kind and a number for each line
)

// draftPart is what the form shows at one path.
type draftPart struct {
	heading words.Text
	fields  []draftField
}

// values are what the fields show for the text as it stands.
func (p draftPart) values(s *drafting.Sheet, at string) url.Values {
	all := url.Values{}
	for _, f := range p.fields {
		path := join(at, f.Name)
		switch f.kind {
		case listField:
			all.Set(f.Name, strings.Join(s.Values(path), "\n"))
		case ticksField:
			all[f.Name] = s.Values(path)
		case countedField:
			all.Set(f.Name, counted(s, path))
		case flagField:
			if s.Value(path) == "true" {
				all.Set(f.Name, "true")
			}
		default:
			all.Set(f.Name, s.Value(path))
		}
	}
	return all
}

// wanted is what the form wants the text to say. Fields below another one,
// target.value, are fields of that mapping.
func (p draftPart) wanted(s *drafting.Sheet, at string, form url.Values) []drafting.Field {
	var all []drafting.Field
	for _, f := range p.fields {
		value := f.node(s, join(at, f.Name), form[f.Name])
		above, own, nested := strings.Cut(f.Name, ".")
		if !nested {
			all = append(all, drafting.Field{Key: f.Name, Value: value})
			continue
		}
		i := slices.IndexFunc(all, func(one drafting.Field) bool { return one.Key == above })
		if i < 0 {
			all = append(all, drafting.Field{Key: above})
			i = len(all) - 1
		}
		all[i].Fields = append(all[i].Fields, drafting.Field{Key: own, Value: value})
	}
	return all
}

// node is one value, nil where the field is left empty and may be.
func (f draftField) node(s *drafting.Sheet, path string, typed []string) drafting.Value {
	text := strings.Join(typed, "\n")
	switch f.kind {
	case listField:
		return drafting.List(slices.DeleteFunc(trimmedLines(text), func(line string) bool { return line == "" }))
	case ticksField:
		return drafting.List(inOrder(s.Values(path), typed))
	case countedField:
		return countedNode(text)
	case flagField:
		if text == "" && s.Value(path) == "false" {
			text = "false" // said in so many words
		}
	}
	switch {
	case text == "" && f.kind == wordsField && f.Required:
		return drafting.Words("") // the loader says that it is missing, on its line
	case text == "":
		return nil
	case f.kind == wordsField:
		return drafting.Words(text)
	case f.kind == figureField:
		return drafting.Figure(text)
	}
	return drafting.Whole(text)
}

// shown is the field as the page asks for it. A value that is not among the
// options stays one of them, so that nothing is lost by looking at it.
func (f draftField) shown(values url.Values) templates.PartField {
	field := templates.PartField{Input: f.Input}
	if len(f.Options) > 0 {
		field.Options = withOthers(f.Options, []string{values.Get(f.Name)})
	}
	switch f.kind {
	case ticksField:
		field.Ticks = withOthers(f.ticks, values[f.Name])
	case flagField:
		field.Ticks, field.Hint = []parts.Option{{Value: "true", Label: f.Hint}}, words.Text{}
	case listField, countedField:
		field.Rows = max(3, strings.Count(values.Get(f.Name), "\n")+2)
	}
	return field
}

func withOthers(options []parts.Option, values []string) []parts.Option {
	all := slices.Clone(options)
	for _, v := range values {
		if v != "" && !slices.ContainsFunc(all, func(o parts.Option) bool { return o.Value == v }) {
			all = append(all, parts.Option{Value: v, Label: words.Plain(v)})
		}
	}
	return all
}

// inOrder keeps the order of what stood there before.
func inOrder(stood, chosen []string) []string {
	all := slices.DeleteFunc(slices.Clone(stood), func(v string) bool { return !slices.Contains(chosen, v) })
	for _, v := range chosen {
		if !slices.Contains(all, v) {
			all = append(all, v)
		}
	}
	return all
}

func trimmedLines(text string) []string {
	var all []string
	for line := range strings.Lines(text) {
		all = append(all, strings.Join(strings.Fields(line), " "))
	}
	return all
}

// counted writes a list of kinds with how often each may happen.
func counted(s *drafting.Sheet, path string) string {
	var lines []string
	for i := range s.Len(path) {
		item := join(path, itoa(i))
		lines = append(lines, strings.TrimSpace(s.Value(item+".kind")+" "+s.Value(item+".at_most")))
	}
	return strings.Join(lines, "\n")
}

func countedNode(text string) drafting.Value {
	var items []drafting.Value
	for _, line := range trimmedLines(text) {
		if line == "" {
			continue
		}
		kind, most := line, ""
		if at := strings.LastIndexByte(line, ' '); at > 0 {
			kind, most = line[:at], line[at+1:]
		}
		fields := []drafting.Field{{Key: "kind", Value: drafting.Words(kind)}}
		if most != "" {
			fields = append(fields, drafting.Field{Key: "at_most", Value: drafting.Whole(most)})
		}
		items = append(items, drafting.Item(fields...))
	}
	return drafting.Items(items)
}

func join(path, step string) string { return strings.TrimPrefix(path+"."+step, ".") }
