package handlers_test

import (
	"testing"

	"settlemark/handlers"
)

// OWASP ASVS 5.0, 1.2.10: a cell that opens with one of these is computed by
// spreadsheets unless a quote stands before it.
func TestCSVCellsAreNoFormulas(t *testing.T) {
	for text, want := range map[string]string{
		"=1+1": "'=1+1", "+1+1": "'+1+1", "-2+3": "'-2+3", "@SUM(A1)": "'@SUM(A1)",
		"\t=1": "'\t=1", "\r=1": "'\r=1", "\x00=1": "'\x00=1",
		"＝1": "'＝1", "＋1": "'＋1", "－1": "'－1", "＠a": "'＠a",
		"-4.50": "-4.50", "+3": "+3", "4.5": "4.5", "": "", "plain": "plain", "a=1": "a=1",
		"-": "'-", "-1e5": "'-1e5",
	} {
		if got := handlers.CSVCell(text); got != want {
			t.Errorf("%q became %q, wants %q", text, got, want)
		}
	}
}
