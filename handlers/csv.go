package handlers

import (
	"encoding/csv"
	"io"
	"regexp"
	"strings"
)

var plainNumber = regexp.MustCompile(`^[+-]?\d+(\.\d+)?$`)

// opensFormula are the first characters that make a spreadsheet compute a cell
// (OWASP ASVS 5.0, 1.2.10), the full-width forms among them.
const opensFormula = "=+-@\t\r\x00＝＋－＠"

// csvCell keeps a text from being read as a formula. A plain number with its
// sign stays a number.
func csvCell(text string) string {
	if text == "" || plainNumber.MatchString(text) || !strings.ContainsRune(opensFormula, []rune(text)[0]) {
		return text
	}
	return "'" + text
}

// writeCSV writes rows as RFC 4180 has them, safe to open in a spreadsheet.
func writeCSV(w io.Writer, rows [][]string) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	for _, row := range rows {
		cells := make([]string, len(row))
		for i, text := range row {
			cells[i] = csvCell(text)
		}
		if err := out.Write(cells); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}
