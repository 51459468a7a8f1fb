package words

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Text is something to be said to a person: an English format, by which the
// catalogues find the others, and what fills it in. What says it need not know
// who will read it; it becomes a string where the reader is known.
//
// Formats are those of fmt, so a number is written without marks between its
// digits. A word that needs telling apart carries a context in front of a bar,
// which no reader sees: "valve|Open".
type Text struct {
	one, other string // formats; other is "" unless a count chooses
	count      int
	args       []any
}

// Say makes a text of a format, which must be a literal, and its arguments.
// Texts, numbers and other arguments with a method In are said in the reader's
// language too.
func Say(format string, args ...any) Text { return Text{one: format, args: args} }

// Many makes a text by a count, which is the first argument of both formats:
//
//	Many(n, "%d line is open.", "%d lines are open.")
func Many(count int, one, other string, args ...any) Text {
	return Text{one: one, other: other, count: count, args: slices.Insert(args, 0, any(count))}
}

// Plain makes a text of what has no language, or keeps its own: a name, a code,
// what somebody typed.
func Plain(text string) Text {
	if text == "" {
		return Text{}
	}
	return Text{one: "%s", args: []any{text}}
}

// Join says texts one after another with a separator; empty ones are left out.
func Join(separator string, texts ...Text) Text {
	var out Text
	for _, t := range texts {
		if t.Empty() {
			continue
		}
		if !out.Empty() {
			out.one += strings.ReplaceAll(separator, "%", "%%")
		}
		out.one += "%s"
		out.args = append(out.args, t)
	}
	return out
}

// Sentences says whole sentences one after another.
func Sentences(texts ...Text) Text { return Join(" ", texts...) }

// Empty says whether there is nothing to say.
func (t Text) Empty() bool { return t.one == "" }

// String is the text in English.
func (t Text) String() string { return t.In(English) }

// MarshalText gives machines the English.
func (t Text) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// IsZero says whether there is nothing to say, for JSON that leaves it out then.
func (t Text) IsZero() bool { return t.Empty() }

// Equal says whether two texts read the same in English.
func (t Text) Equal(u Text) bool { return t.String() == u.String() }

// In is the text in a language. What a catalogue lacks is said in English.
func (t Text) In(l Language) string { return t.For(Reader{Language: l}) }

// For is the text for a reader, with what depends on more than their language.
func (t Text) For(r Reader) string {
	format := t.format(r.Language)
	if len(t.args) == 0 {
		return format
	}
	args := make([]any, len(t.args))
	for i, arg := range t.args {
		switch said := arg.(type) {
		case interface{ For(Reader) string }:
			arg = said.For(r)
		case interface{ In(Language) string }:
			arg = said.In(r.Language)
		}
		args[i] = arg
	}
	return fmt.Sprintf(format, args...)
}

func (t Text) format(l Language) string {
	form := l.form(t.count)
	if said, ok := catalogues[l][t.one]; ok {
		if t.other == "" {
			return said.one
		}
		return said.choose(form)
	}
	english := t.one
	if t.other != "" {
		english = entry{t.one, t.other}.choose(form)
	}
	if _, bare, found := strings.Cut(english, "|"); found {
		return bare
	}
	return english
}

// Capital says a text with a capital in front, as the first of a sentence or of
// a row.
func Capital(t Text) Text { return Say("%s", capital{t}) }

type capital struct{ text Text }

func (c capital) In(l Language) string {
	said := c.text.In(l)
	if said == "" {
		return ""
	}
	first, size := utf8.DecodeRuneInString(said)
	return string(unicode.ToUpper(first)) + said[size:]
}
