package chart

import (
	"fmt"
	"html"
	"strings"
	"unicode"
)

// SVG writes the chart for a page: inks as classes, no colours and no style
// attributes. Lengths, dashes and type sizes are presentation attributes.
func (c Chart) SVG() string {
	var b strings.Builder
	class := strings.TrimSpace("drawn " + c.class)
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" class="%s" viewBox="0 0 %s %s" role="img" aria-labelledby="%st %sd"%s>`,
		class, c.Width, c.Height, c.prefix, c.prefix, c.scale.attributes())
	fmt.Fprintf(&b, `<title id="%st">%s</title><desc id="%sd">%s</desc>`, c.prefix, safe(c.Title), c.prefix, safe(c.Story))
	for _, m := range c.Marks {
		m.svg(&b)
	}
	b.WriteString("</svg>")
	return b.String()
}

func (s *scale) attributes() string {
	if s == nil {
		return ""
	}
	return fmt.Sprintf(` data-t0="%d" data-t1="%d" data-x0="%s" data-x1="%s" data-v0="%.6g" data-v1="%.6g" data-y0="%s" data-y1="%s" data-bar="%s" data-unit="%s"`,
		s.t0, s.t1, s.x0, s.x1, s.v0, s.v1, s.y0, s.y1, s.bar, safe(s.unit))
}

func (m Mark) svg(b *strings.Builder) {
	switch {
	case m.Text != "":
		fmt.Fprintf(b, `<text x="%s" y="%s" font-size="%s"`, m.X, m.Y, m.Size)
		if m.Bold {
			b.WriteString(` font-weight="700"`)
		}
		if m.Anchor != Start {
			fmt.Fprintf(b, ` text-anchor="%s"`, m.Anchor)
		}
		m.paint(b)
		fmt.Fprintf(b, `>%s</text>`, safe(m.Text))
	case m.R > 0:
		fmt.Fprintf(b, `<circle cx="%s" cy="%s" r="%s"`, m.X, m.Y, m.R)
		m.paint(b)
		b.WriteString("/>")
	default:
		fmt.Fprintf(b, `<path d="%s"`, m.path())
		m.paint(b)
		b.WriteString("/>")
	}
}

// path goes on from each point by the way to the next one, so that the same
// sign drawn often is the same text, which weighs nothing once compressed.
func (m Mark) path() string {
	var b strings.Builder
	for _, line := range m.Lines {
		for i := 0; i+1 < len(line); i += 2 {
			if i == 0 {
				fmt.Fprintf(&b, "M%s %s", line[0], line[1])
				continue
			}
			cmd := " "
			if i == 2 {
				cmd = "l"
			}
			fmt.Fprintf(&b, "%s%s %s", cmd, line[i]-line[i-2], line[i+1]-line[i-1])
		}
		if m.Closed {
			b.WriteString("z")
		}
	}
	return b.String()
}

func (m Mark) paint(b *strings.Builder) {
	var classes []string
	if m.Fill != None {
		classes = append(classes, "f-"+string(m.Fill))
	} else if m.Text == "" {
		b.WriteString(` fill="none"`)
	}
	if m.Line != None {
		classes = append(classes, "l-"+string(m.Line))
		fmt.Fprintf(b, ` stroke-width="%s"`, m.Width)
	}
	if len(m.Dash) > 0 {
		parts := make([]string, len(m.Dash))
		for i, d := range m.Dash {
			parts[i] = d.String()
		}
		fmt.Fprintf(b, ` stroke-dasharray="%s"`, strings.Join(parts, " "))
	}
	fmt.Fprintf(b, ` class="%s"`, strings.Join(classes, " "))
}

// safe escapes a text for XML; what XML cannot carry, and marks that turn the
// direction of a text, are shown as a replacement sign.
func safe(t string) string {
	return html.EscapeString(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r >= 0xFFFE && r <= 0xFFFF {
			return unicode.ReplacementChar
		}
		return r
	}, t))
}
