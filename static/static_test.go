package static_test

import (
	"io/fs"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"settlemark/static"
)

func sheet(t *testing.T) string {
	t.Helper()
	w := httptest.NewRecorder()
	static.Handler(w, httptest.NewRequest(http.MethodGet, static.URL("css/settlemark.css"), nil))
	return w.Body.String()
}

func TestURL(t *testing.T) {
	t.Run("every_file_is_served_under_a_name_with_its_hash", func(t *testing.T) {
		for _, dir := range []string{"css", "js", "fonts", "icons"} {
			names, err := fs.Glob(os.DirFS("."), dir+"/*")
			if err != nil || len(names) == 0 {
				t.Fatal(dir, err)
			}
			for _, name := range names {
				w := httptest.NewRecorder()
				static.Handler(w, httptest.NewRequest(http.MethodGet, static.URL(name), nil))
				if w.Code != 200 || !regexp.MustCompile(`-[0-9a-f]{12}\.`).MatchString(static.URL(name)) || w.Header().Get("Content-Type") == "" {
					t.Errorf("%s: %d %s %s", name, w.Code, static.URL(name), w.Header().Get("Content-Type"))
				}
			}
		}
	})
	t.Run("unknown_name_panics", func(t *testing.T) {
		defer func() {
			if recover() == nil {
				t.Error("it gave an address")
			}
		}()
		static.URL("css/none.css")
	})
	t.Run("sent_smaller_to_whoever_can_read_it", func(t *testing.T) {
		r := httptest.NewRequest(http.MethodGet, static.URL("css/settlemark.css"), nil)
		r.Header.Set("Accept-Encoding", "gzip, br")
		w := httptest.NewRecorder()
		static.Handler(w, r)
		if w.Header().Get("Content-Encoding") != "br" || w.Body.Len() > 11<<10 {
			t.Errorf("%s, %d bytes", w.Header().Get("Content-Encoding"), w.Body.Len())
		}
	})
}

func TestSheet(t *testing.T) {
	css := sheet(t)
	t.Run("fonts_are_named_by_their_hash", func(t *testing.T) {
		if strings.Contains(css, "../fonts/") || strings.Count(css, "/assets/atkinson") != 3 {
			t.Error("a font is named as it stands in the folder")
		}
	})
	t.Run("every_token_that_is_used_is_defined", func(t *testing.T) {
		defined := map[string]bool{}
		for _, m := range regexp.MustCompile(`(--[a-z0-9-]+)\s*:`).FindAllStringSubmatch(css, -1) {
			defined[m[1]] = true
		}
		for _, m := range regexp.MustCompile(`var\((--[a-z0-9-]+)\)`).FindAllStringSubmatch(css, -1) {
			if !defined[m[1]] {
				t.Errorf("%s is used and not defined", m[1])
			}
		}
	})
	t.Run("braces_close", func(t *testing.T) {
		if strings.Count(css, "{") != strings.Count(css, "}") {
			t.Errorf("%d open, %d close", strings.Count(css, "{"), strings.Count(css, "}"))
		}
	})
	t.Run("no_pills_no_shadows_no_movement", func(t *testing.T) {
		for _, banned := range []string{"box-shadow:0 1", "border-radius:999", "@keyframes", "animation:", "!important;animation"} {
			if strings.Contains(css, banned) {
				t.Errorf("it has %s", banned)
			}
		}
	})
}

// light is one set of colours.
type light map[string]string

func lights(t *testing.T) map[string]light {
	t.Helper()
	css, err := os.ReadFile("css/tokens.css")
	if err != nil {
		t.Fatal(err)
	}
	text := regexp.MustCompile(`/\*.*?\*/`).ReplaceAllString(string(css), "")
	read := func(from string, base light) light {
		out := light{}
		for k, v := range base {
			out[k] = v
		}
		_, rest, ok := strings.Cut(text, from)
		if !ok {
			t.Fatalf("no %q in tokens.css", from)
		}
		block, _, _ := strings.Cut(rest, "}")
		for _, m := range regexp.MustCompile(`--([a-z0-9-]+):(#[0-9A-Fa-f]{3,6})`).FindAllStringSubmatch(block, -1) {
			out[m[1]] = m[2]
		}
		return out
	}
	day := read(":root{", nil)
	return map[string]light{
		"day":   day,
		"dark":  read(`:root:not([data-light="day"])`, day),
		"glare": read(`[data-light="glare"]{`, day),
	}
}

// WCAG 2.2, relative luminance and contrast ratio.
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	hex = strings.TrimPrefix(hex, "#")
	if len(hex) == 3 {
		hex = strings.Repeat(hex[:1], 2) + strings.Repeat(hex[1:2], 2) + strings.Repeat(hex[2:], 2)
	}
	n, err := strconv.ParseUint(hex, 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	channel := func(v uint64) float64 {
		c := float64(v&255) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*channel(n>>16) + 0.7152*channel(n>>8) + 0.0722*channel(n)
}

func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	la, lb := luminance(t, a), luminance(t, b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

func TestContrast(t *testing.T) {
	if got := contrast(t, "#FFFFFF", "#767676"); math.Abs(got-4.54) > 0.01 { // a pair that is often quoted
		t.Fatalf("the formula is wrong: %.2f", got)
	}
	for name, l := range lights(t) {
		for pair, least := range map[string]float64{
			"ink on sheet": 7, "ink on bench": 7, "ink-2 on sheet": 7, "ink-2 on bench": 7, "sheet on ink": 7,
			"ink-3 on sheet": 4.5, "seal on sheet": 7, "sheet on seal": 7, "on-duty on duty": 7,
			"ok on sheet": 4.5, "warn on sheet": 4.5, "bad on sheet": 4.5, "bad on bench": 4.5, "duty on sheet": 4.5,
			"rule-2 on sheet": 3, "rule-2 on bench": 3, "focus on sheet": 3, "focus on bench": 3,
		} {
			fore, back, _ := strings.Cut(pair, " on ")
			if got := contrast(t, l[fore], l[back]); got < least {
				t.Errorf("%s: %s is %.1f, wants %.1f", name, pair, got, least)
			}
		}
	}
}

// What people read is written by the server, in the reader's language; scripts
// only fill in figures.
func TestScriptsSayNothingOfTheirOwn(t *testing.T) {
	literal := regexp.MustCompile("\"[^\"\\n]*\"|'[^'\\n]*'|`[^`]*`")
	sentence := regexp.MustCompile(`^\W?[A-Z][a-z’]+( \S+)* [a-z’]+\W*$`)
	looked := 0
	for _, pattern := range []string{"js/*.js", "tablet/*.js"} {
		names, err := fs.Glob(os.DirFS("."), pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			if regexp.MustCompile(`htmx|decode`).MatchString(name) {
				continue // of others
			}
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			looked++
			code := regexp.MustCompile(`(?m)^\s*(//|\*|/\*).*$`).ReplaceAllString(string(text), "")
			for _, l := range literal.FindAllString(code, -1) {
				if said := l[1 : len(l)-1]; sentence.MatchString(said) {
					t.Errorf("%s says %q; hand it over in a data-say attribute", name, said)
				}
			}
		}
	}
	if looked < 15 {
		t.Fatalf("only %d scripts were looked at, so this shows nothing", looked)
	}
}
