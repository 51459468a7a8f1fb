package tabular

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Text gives the text of a file: UTF-8, UTF-16 or, where it is neither, Windows-1252.
// What is packed, no text at all or too large is refused.
func Text(file []byte) (string, error) {
	switch {
	case len(file) > MaxFile:
		return "", problem.On("file", "This file is larger than 20 MB. Cut it to the time of the run and choose it again.")
	case len(bytes.TrimSpace(file)) == 0:
		return "", problem.On("file", "This file is empty. Choose another.")
	case hasAny(file, "PK\x03\x04", "\xd0\xcf\x11\xe0", "\x1f\x8b", "BZh", "7z\xbc\xaf", "\xfd7zXZ", "%PDF"):
		return "", problem.On("file", "This is no text file. Save the table as CSV, unpacked, and choose that.")
	}
	var text string
	switch order, marked := utf16(file); {
	case order != nil:
		decoded, err := unicode.UTF16(*order, unicode.UseBOM).NewDecoder().Bytes(file)
		if !marked {
			decoded, err = unicode.UTF16(*order, unicode.IgnoreBOM).NewDecoder().Bytes(file)
		}
		if err != nil {
			return "", problem.On("file", "This is no text file. Save the table as CSV, unpacked, and choose that.")
		}
		text = string(decoded)
	case utf8.Valid(file):
		text = string(file)
	default:
		decoded, _ := charmap.Windows1252.NewDecoder().Bytes(file) // every byte has a sign
		text = string(decoded)
	}
	text = strings.TrimPrefix(text, "\ufeff")
	if strings.ContainsRune(text, 0) {
		return "", problem.On("file", "This is no text file. Save the table as CSV, unpacked, and choose that.")
	}
	return lines(text), nil
}

func hasAny(file []byte, starts ...string) bool {
	for _, s := range starts {
		if bytes.HasPrefix(file, []byte(s)) {
			return true
		}
	}
	return false
}

// utf16 says whether the file is UTF-16: by its mark, else because every other
// byte of what begins it is zero.
func utf16(file []byte) (order *unicode.Endianness, marked bool) {
	big, little := unicode.BigEndian, unicode.LittleEndian
	switch {
	case hasAny(file, "\xff\xfe"):
		return &little, true
	case hasAny(file, "\xfe\xff"):
		return &big, true
	}
	head := file[:min(len(file), 200)&^1]
	var zero [2]int
	for i, b := range head {
		if b == 0 {
			zero[i%2]++
		}
	}
	switch most := len(head) / 2 * 4 / 5; {
	case most == 0:
	case zero[1] > most && zero[0] == 0:
		return &little, false
	case zero[0] > most && zero[1] == 0:
		return &big, false
	}
	return nil, false
}

// lines ends every line with one sign; a form would do so anyway.
func lines(text string) string {
	return strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
}

// row is one record of the file and the line on which it begins.
type row struct {
	line  int
	cells []string
}

// split takes the text apart. A row that can't be read, or is not like a row of
// readings, is told of by its line.
func split(text, delimiter string) (rows []row, bad []Bad) {
	text = lines(text)
	skipped := 0
	if first, rest, _ := strings.Cut(text, "\n"); strings.HasPrefix(strings.ToLower(first), "sep=") { // a spreadsheet's own hint
		text, skipped = rest, 1
	}
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, _ = utf8.DecodeRuneInString(delimiter)
	r.FieldsPerRecord = -1
	for len(rows)+len(bad) < maxRows {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return rows, bad
		}
		var broken *csv.ParseError
		if errors.As(err, &broken) {
			bad = append(bad, Bad{skipped + broken.StartLine, words.Say("A quotation mark stands where none can, or one is missing.")})
			continue
		}
		if err != nil {
			return rows, bad
		}
		line, _ := r.FieldPos(0)
		line += skipped
		if why := unlike(cells); !why.Empty() {
			bad = append(bad, Bad{line, why})
			continue
		}
		if strings.Trim(strings.Join(cells, ""), " \t\u00a0") != "" {
			rows = append(rows, row{line, cells})
		}
	}
	line, _ := r.FieldPos(0)
	return rows, append(bad, Bad{skipped + line, words.Say("The file has more rows than can be read at once. What follows was not read.")})
}

func unlike(cells []string) words.Text {
	if len(cells) > maxColumns {
		return words.Say("It has more than %d columns.", maxColumns)
	}
	for _, c := range cells {
		if len(c) > maxCell {
			return words.Say("A field of it is longer than %d characters.", maxCell)
		}
	}
	return words.Text{}
}
