package drafting

import (
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

func utf8At(text string, at int) (rune, int) { return utf8.DecodeRuneInString(text[at:]) }

// end is the offset behind a value.
func (s *Sheet) end(p place) int {
	from, n := s.at(p.value), p.value
	switch {
	case n.Kind == yaml.AliasNode:
		return from + 1 + len(n.Value)
	case flowing(n), n.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0, p.flow:
		return s.flowEnd(from)
	case n.Kind == yaml.ScalarNode && n.Style&(yaml.LiteralStyle|yaml.FoldedStyle) == 0:
		if to := s.plainEnd(from); s.text[from:to] == n.Value {
			return to
		}
	}
	return s.lastLine(from, p.limit)
}

// plainEnd is the end of a plain value on its line, without the comment.
func (s *Sheet) plainEnd(from int) int {
	line := s.text[from:]
	if at := strings.IndexByte(line, '\n'); at >= 0 {
		line = line[:at]
	}
	for _, mark := range []string{" #", "\t#"} {
		if at := strings.Index(line, mark); at >= 0 {
			line = line[:at]
		}
	}
	return from + len(strings.TrimRight(line, " \t\r"))
}

// lastLine is the end of the last line before limit that holds more than a
// comment: what stands between two values belongs to the second.
func (s *Sheet) lastLine(from, limit int) int {
	to := limit
	for to > from {
		line := s.text[:to]
		start := strings.LastIndexByte(strings.TrimSuffix(line, "\n"), '\n') + 1
		if words := strings.TrimSpace(s.text[start:to]); words != "" && words[0] != '#' {
			return len(strings.TrimRight(line, "\r\n"))
		}
		to = start
	}
	return max(from, to)
}

// flowEnd is the end of a quoted value, of one in brackets, or of a plain one
// within brackets.
func (s *Sheet) flowEnd(from int) int {
	depth, last := 0, byte(',')
	for i := from; i < len(s.text); i++ {
		switch c := s.text[i]; c {
		case '"', '\'':
			if opens(last) || i == from {
				i = s.quoteEnd(i) - 1
				if depth == 0 {
					return min(i+1, len(s.text))
				}
			}
		case '{', '[':
			if opens(last) {
				depth++
			}
		case '}', ']':
			if depth--; depth == 0 {
				return i + 1
			}
			if depth < 0 {
				return trimmed(s.text, from, i)
			}
		case ',':
			if depth == 0 {
				return trimmed(s.text, from, i)
			}
		case '#':
			if i > 0 && strings.IndexByte(" \t\n", s.text[i-1]) >= 0 {
				if depth == 0 {
					return trimmed(s.text, from, i)
				}
				i += len(s.text[i:]) - len(strings.TrimLeft(s.text[i:], "#"))
				if at := strings.IndexByte(s.text[min(i, len(s.text)):], '\n'); at >= 0 {
					i += at
				}
			}
		}
		if i < len(s.text) && strings.IndexByte(" \t\r\n", s.text[i]) < 0 {
			last = s.text[i]
		}
	}
	return trimmed(s.text, from, len(s.text))
}

// opens says whether a value may begin after this character in brackets.
func opens(last byte) bool { return strings.IndexByte("{[,:", last) >= 0 }

func trimmed(text string, from, to int) int {
	return from + len(strings.TrimRight(text[from:to], " \t\r\n"))
}

// quoteEnd is the offset behind the closing quote.
func (s *Sheet) quoteEnd(from int) int {
	quote := s.text[from]
	for i := from + 1; i < len(s.text); i++ {
		switch {
		case quote == '"' && s.text[i] == '\\':
			i++
		case s.text[i] == quote && quote == '\'' && i+1 < len(s.text) && s.text[i+1] == quote:
			i++
		case s.text[i] == quote:
			return i + 1
		}
	}
	return len(s.text)
}
