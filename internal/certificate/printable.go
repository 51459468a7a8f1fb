package certificate

import (
	_ "embed"
	"fmt"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

//go:embed fonts/text-400.ttf
var regular []byte

//go:embed fonts/text-700.ttf
var bold []byte

// face is the regular font, to ask which letters it has; both have the same.
var face = sync.OnceValue(func() *sfnt.Font {
	f, err := sfnt.Parse(regular)
	if err != nil {
		panic("certificate: embedded font: " + err.Error())
	}
	return f
})

// printable shows a text as it can stand on paper. Marks that are invisible or
// that turn the direction of a text are shown as their code point, so that a
// reader sees what is there; so is a letter that the font lacks. Letters
// written as base and accent are joined, which the font needs.
func printable(text string) string {
	if !strings.ContainsFunc(text, func(r rune) bool { return r < ' ' || r > '~' }) {
		return text
	}
	var b strings.Builder
	var buf sfnt.Buffer
	for _, r := range norm.NFC.String(strings.ToValidUTF8(text, "\uFFFD")) {
		switch {
		case r == ' ' || r == '\u00A0':
			b.WriteRune(r)
		case unicode.IsControl(r), unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Co, unicode.Mn), !known(&buf, r):
			fmt.Fprintf(&b, "<U+%04X>", r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

func known(buf *sfnt.Buffer, r rune) bool {
	i, err := face().GlyphIndex(buf, r)
	return err == nil && i != 0
}
