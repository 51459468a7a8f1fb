package web_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"settlemark/web"
)

// english are words that German does not have and no English page does without.
var english = regexp.MustCompile(`(?:^|\s)([Tt]he|[Aa]nd|[Nn]ot|[Ww]ith|is|are|of|to|[Yy]our?|has|[Ww]hen|[Oo]nly)(?:[\s.,;:]|$)`)

// called are the people of the test, each by their login.
var called = regexp.MustCompile(`The [a-z]+`)

// asStored are the parts of a page that show what somebody typed, what machines
// read, or the record of an act in the words in which it was stored.
const asStored = "script, style, code, pre, textarea, .mono, td small, td .go"

// A German reader finds no English on a page that shows no procedure of theirs.
func TestGermanPages(t *testing.T) {
	s := newSite(t)
	s.change("update settlemark.sites set language = 'de'")
	person := string(s.people["engineer"].ID)
	names := strings.NewReplacer("{unit}", "QU-01", "{person}", person, "{logger}", s.text("select min(id) from settlemark.loggers"))
	seen := 0
	for _, login := range []string{"administrator", "quality", "supervisor", "engineer"} {
		b := s.as(login)
		for _, route := range web.Routes(s.screens) {
			path := names.Replace(route.Pattern)
			if route.Method != http.MethodGet || route.Public || strings.HasSuffix(path, "/events") || strings.Contains(path, "{") ||
				route.Action != "" && s.people[login].MayAnywhere(route.Action) != nil {
				continue
			}
			a := b.get(path)
			if a.status >= 300 && a.status < 400 || !strings.HasPrefix(a.header.Get("Content-Type"), "text/html") {
				continue
			}
			page := a.page()
			page.Find(asStored).Remove()
			seen++
			for _, line := range strings.Split(called.ReplaceAllString(page.Text(), ""), "\n") {
				if found := english.FindString(line); found != "" {
					t.Errorf("%s for %s says %q in %.300q", path, login, found, strings.TrimSpace(line))
				}
			}
		}
	}
	if seen < 40 {
		t.Errorf("only %d pages were read, so this shows nothing", seen)
	}
}
