package parts

import (
	"strings"
	"testing"
)

// A code stays in one piece; other words, and codes too long for a column, break
// where they like.
func TestCodesStayWhole(t *testing.T) {
	for text, want := range map[string]string{
		"BH-12":                              `<span class="nb">BH-12</span>`,
		"due on 2026-11-21; late":            `due on <span class="nb">2026-11-21;</span> late`,
		"07:40, UTC-4":                       `07:40, <span class="nb">UTC-4</span>`,
		"make-up, 3 h":                       "make-up, 3 h",
		"T-03 <b> & K-20":                    `<span class="nb">T-03</span> &lt;b&gt; &amp; <span class="nb">K-20</span>`,
		"a  b ":                              "a  b ",
		"01991c1e-8f0a-7c11-9c5e-1a2b3c4d5e": "01991c1e-8f0a-7c11-9c5e-1a2b3c4d5e",
		"":                                   "",
	} {
		var got strings.Builder
		if err := Whole(text).Render(t.Context(), &got); err != nil || got.String() != "<span>"+want+"</span>" {
			t.Errorf("%q became %q, wants %q (%v)", text, got.String(), want, err)
		}
	}
}
