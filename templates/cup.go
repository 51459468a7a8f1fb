package templates

import (
	"settlemark/internal/measure"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

func cupOptions() []parts.Option {
	var out []parts.Option
	for _, c := range measure.Cups {
		least, most := c.Span()
		out = append(out, parts.Option{
			Value: c.Key, Label: words.Say("%s: %.0f to %.0f s, %s to %s mm²/s", c.Name, c.Least, c.Most, about(least), about(most)),
		})
	}
	return out
}
