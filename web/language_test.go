package web_test

import (
	"net/http"
	"strings"
	"testing"
)

// A person reads in the language they chose, else in that of their site; who is
// not signed in reads what the browser asks for.
func TestLanguage(t *testing.T) {
	s := newSite(t)
	b := s.as("engineer")
	reads := func(lang, what string) {
		t.Helper()
		page := b.get("/account")
		if got := page.page().Find("html").AttrOr("lang", ""); got != lang {
			t.Errorf("%s: the page is %q, wants %q", what, got, lang)
		}
		said := map[string]string{"en-GB": "Sign out everywhere", "de": "Überall abmelden"}
		if !strings.Contains(page.text(), said[lang]) {
			t.Errorf("%s: it does not say %q", what, said[lang])
		}
	}
	choose := func(code string, status int) {
		t.Helper()
		if a := b.post("/account/reading", "language", code); a.status != status {
			t.Errorf("choosing %q answers %d, wants %d", code, a.status, status)
		}
	}
	reads("en-GB", "nothing chosen")
	choose("de", http.StatusSeeOther)
	reads("de", "German chosen")
	choose("xx", http.StatusUnprocessableEntity)
	reads("de", "after a refusal")
	choose("", http.StatusSeeOther)
	s.change("update settlemark.sites set language = 'de'")
	reads("de", "the site's language")
	choose("en", http.StatusSeeOther)
	reads("en-GB", "English chosen at a German site")
}
