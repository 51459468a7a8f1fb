package parts

import (
	"context"
	"io"
	"strings"
	"unicode/utf8"

	"github.com/a-h/templ"
)

// longestCode must fit the narrowest column.
const longestCode = 18

// Whole writes a text for a narrow column: a code or a date in it (BH-12, UTC-4,
// 2026-11-05) does not break at its hyphen. It is one element, for a cell or a
// row that lays out its children.
func Whole(text string) templ.Component {
	return templ.ComponentFunc(func(_ context.Context, w io.Writer) error {
		var out strings.Builder
		for word := range strings.SplitAfterSeq(text, " ") {
			code := strings.TrimRight(word, " ")
			if !isCode(code) {
				out.WriteString(templ.EscapeString(word))
				continue
			}
			out.WriteString(`<span class="nb">` + templ.EscapeString(code) + "</span>" + word[len(code):])
		}
		_, err := io.WriteString(w, "<span>"+out.String()+"</span>")
		return err
	})
}

func isCode(word string) bool {
	return strings.Contains(word, "-") && strings.ContainsAny(word, "0123456789") && utf8.RuneCountInString(word) <= longestCode
}
