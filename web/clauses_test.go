package web_test

import (
	"flag"
	"os"
	"strings"
	"testing"

	"settlemark/internal/words"
	"settlemark/web"
)

var update = flag.Bool("update", false, "write docs/clauses.md")

// Every screen and every test that the clause map names exists, and the file
// says what the page says.
func TestClauses(t *testing.T) {
	s := newSite(t)
	known := map[string]bool{}
	for _, r := range web.Routes(s.screens) {
		known[r.Pattern] = true
	}
	rows := 0
	for _, rule := range words.Rules {
		for _, c := range rule.Clauses {
			rows++
			what := rule.Name + " " + c.Number
			if c.Screen != "" && !known[c.Screen] {
				t.Errorf("%s names the screen %s, which is not there", what, c.Screen)
			}
			if c.Duty.Empty() && (c.Met.Empty() || c.Test == "") {
				t.Errorf("%s is neither met with a test nor the site's own duty", what)
			}
			if file, name, named := strings.Cut(c.Test, " "); named {
				text, err := os.ReadFile("../" + file)
				if err != nil || !strings.Contains(string(text), "func "+name+"(") {
					t.Errorf("%s names the test %s, which is not there: %v", what, c.Test, err)
				}
			}
		}
	}
	if rows < 30 {
		t.Errorf("only %d clauses", rows)
	}
	page := s.as("quality").get("/clauses").wants(200, "built to support", "11.10(e)", "8.6", "Attributable")
	if all := strings.ToLower(page.text() + words.ClausesDoc()); strings.Contains(all, "compliant") {
		t.Error("it claims to be compliant")
	}
	if *update {
		s.must(os.WriteFile("../docs/clauses.md", []byte(words.ClausesDoc()), 0o600))
	}
	if doc, err := os.ReadFile("../docs/clauses.md"); err != nil || string(doc) != words.ClausesDoc() {
		t.Errorf("docs/clauses.md is not what the map says; run with -update: %v", err)
	}
}
