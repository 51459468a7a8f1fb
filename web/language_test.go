package web_test

import (
	"net/http"
	"strings"
	"testing"

	"settlemark/internal/urls"
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

// Local units stand in brackets behind what was recorded, which they leave as it
// is; a person's own choice goes before that of their site.
func TestLocalUnits(t *testing.T) {
	s := newBench(t)
	b := s.as("engineer")
	s.start(b)
	s.send(b, urls.Reading(s.run, "viscosity"), "reading", "value", "6,10").taken()
	book := func() string { return b.get(urls.Logbook(s.run)).text() }
	export := func() string {
		_, entries, _ := strings.Cut(b.get(urls.LogbookJSON(s.run)).body, `"entries"`)
		return entries
	}
	before := export()
	choose := func(units string, status int) {
		t.Helper()
		if a := b.post("/account/reading", "language", "", "units", units); a.status != status {
			t.Errorf("choosing %q answers %d, wants %d", units, a.status, status)
		}
	}
	said := func(what string, brackets bool) {
		t.Helper()
		if text := book(); strings.Contains(text, "(6.10 cP)") != brackets || !strings.Contains(text, "6.10 mPa·s") {
			t.Errorf("%s: brackets are %v: %s", what, !brackets, text)
		}
	}
	elsewhere := func(units string, want ...string) {
		t.Helper()
		choose(units, http.StatusSeeOther)
		for _, w := range want {
			page, text, _ := strings.Cut(w, " ")
			if got := b.get(map[string]string{"run": urls.Run(s.run), "pad": urls.Reading(s.run, "viscosity"), "empty": urls.MoreForm(s.run, "empty")}[page]).text(); !strings.Contains(got, text) {
				t.Errorf("with units %q the %s page lacks %q: %s", units, page, text, got)
			}
		}
	}
	elsewhere("us", "run Value, mPa·s", "run 6.10 (6.10 cP)", "pad (4.05 cP)", "pad 6.10 mPa·s (6.10 cP)", "empty US fl oz)")
	elsewhere("", "run Value, mPa·s")
	said("nothing chosen", false)
	choose("us", http.StatusSeeOther)
	said("chosen", true)
	choose("furlong", http.StatusUnprocessableEntity)
	said("after a refusal", true)
	choose("", http.StatusSeeOther)
	s.change("update settlemark.sites set units = 'bar'")
	said("the site's", true)
	choose("si", http.StatusSeeOther)
	said("none chosen at such a site", false)
	if export() != before || before == "" {
		t.Error("the export changed with what is shown")
	}
}
