package certificate_test

import (
	"testing"

	"settlemark/internal/certificate"
)

func TestPrintable(t *testing.T) {
	for name, c := range map[string]struct{ in, want string }{
		"plain_letters_stay":                        {"Lot 5521, 4.50 mPa·s “ok” −10 %", "Lot 5521, 4.50 mPa·s “ok” −10 %"},
		"letters_of_neighbours_stay":                {"Łódź Dvořák Übersee Şahin Ångström", "Łódź Dvořák Übersee Şahin Ångström"},
		"base_and_accent_are_joined":                {"Va\u0301clav", "Václav"},
		"an_accent_that_joins_nothing_is_shown":     {"q\u0301", "q<U+0301>"},
		"marks_that_turn_the_direction_are_shown":   {"a\u202Eb\u2066c\u200Fd", "a<U+202E>b<U+2066>c<U+200F>d"},
		"invisible_marks_are_shown":                 {"a\u200Bb\u00ADc\uFEFF", "a<U+200B>b<U+00AD>c<U+FEFF>"},
		"control_characters_are_shown":              {"a\x00b\tc\nd\x1b[31m", "a<U+0000>b<U+0009>c<U+000A>d<U+001B>[31m"},
		"letters_that_the_font_lacks_are_shown":     {"日 Ж 🙂 ✓ ≤", "<U+65E5> <U+0416> <U+1F642> <U+2713> <U+2264>"},
		"bytes_that_are_no_text_are_shown":          {"a\xffb", "a<U+FFFD>b"},
		"line_and_paragraph_separators_are_shown":   {"a\u2028b\u2029c", "a<U+2028>b<U+2029>c"},
		"a_private_letter_is_shown_as_its_own_code": {"\uE000", "<U+E000>"},
	} {
		t.Run(name, func(t *testing.T) {
			if got := certificate.Printable(c.in); got != c.want {
				t.Errorf("printed %q, want %q", got, c.want)
			}
		})
	}
}
