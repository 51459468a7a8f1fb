package parts

import (
	"context"

	"settlemark/internal/measure"
	"settlemark/internal/words"
)

// T says a text of the page in the reader's language. Its English is a literal,
// and the catalogues of internal/words have the others.
func T(ctx context.Context, english string) string { return Say(ctx, words.Say(english)) }

// Tf is T for a format with its arguments. A decimal goes in as words.Number.
func Tf(ctx context.Context, format string, args ...any) string {
	return Say(ctx, words.Say(format, args...))
}

// Tn is Tf by a count, which is the first argument of both formats.
func Tn(ctx context.Context, count int, one, other string, args ...any) string {
	return Say(ctx, words.Many(count, one, other, args...))
}

// Say says what came as a text.
func Say(ctx context.Context, text words.Text) string {
	return text.For(words.ReaderOf(ctx))
}

// Num writes a stored decimal with the reader's decimal mark.
func Num(ctx context.Context, stored string) string {
	return words.Number(stored).In(words.ReaderOf(ctx).Language)
}

// Signs says the units in a text by their signs.
func Signs(text words.Text) words.Text { return words.Say("%s", signs{text}) }

type signs struct{ text words.Text }

func (s signs) In(l words.Language) string { return measure.Signs(s.text.In(l)) }

// Reads is the language of the reader, for what is drawn.
func Reads(ctx context.Context) words.Language { return words.ReaderOf(ctx).Language }

// Lang is the lang attribute of what is said.
func Lang(ctx context.Context) string { return words.ReaderOf(ctx).Language.Tag() }

// Languages are what somebody can choose from, each in its own words.
func Languages() []Option {
	var all []Option
	for _, l := range words.Languages {
		all = append(all, Option{Value: string(l), Label: words.Plain(l.Name())})
	}
	return all
}
