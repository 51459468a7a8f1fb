package parts

import (
	"context"
	"io"
	"strconv"
	"strings"

	"github.com/a-h/templ"

	"settlemark/internal/words"
)

// Sentence says a sentence with markup in it: each %s of the format is a link, a
// code or a name, in the order of the reader's language.
func Sentence(format string, pieces ...templ.Component) templ.Component {
	places := make([]any, len(pieces))
	for i := range pieces {
		places[i] = between + strconv.Itoa(i) + between
	}
	text := words.Say(format, places...)
	return templ.ComponentFunc(func(ctx context.Context, w io.Writer) error {
		for i, part := range strings.Split(Say(ctx, text), between) {
			if i%2 == 0 {
				if _, err := io.WriteString(w, templ.EscapeString(part)); err != nil {
					return err
				}
				continue
			}
			piece, err := strconv.Atoi(part)
			if err == nil {
				err = pieces[piece].Render(ctx, w)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

const between = "\x00" // no text holds it
