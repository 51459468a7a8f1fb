package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"settlemark/web"
)

func TestCrossSite(t *testing.T) {
	s := newSite(t)
	b := s.as("administrator")
	for _, route := range web.Routes(s.screens) {
		if route.Method != http.MethodPost {
			continue
		}
		for name, headers := range map[string][]string{
			"another_site":    {"Sec-Fetch-Site", "cross-site"},
			"a_sibling":       {"Sec-Fetch-Site", "same-site"},
			"a_null_origin":   {"Origin", "null"},
			"a_strange_place": {"Origin", "https://elsewhere.example"},
		} {
			a := b.do(http.MethodPost, somewhere(route.Pattern), url.Values{}, headers...)
			if a.status != http.StatusForbidden || !strings.Contains(a.text(), "from a page of another site") {
				t.Errorf("%s from %s answers %d: %s", route.Pattern, name, a.status, a.text())
			}
		}
	}
	t.Run("own_pages_and_old_browsers_are_let_in", func(t *testing.T) {
		for _, headers := range [][]string{{"Sec-Fetch-Site", "same-origin"}, {"Origin", b.base}, nil} {
			b.do(http.MethodPost, "/light", url.Values{"light": {""}, "back": {"/account"}}, headers...).leadsTo("/account")
		}
	})
}

func TestUnknownField(t *testing.T) {
	s := newSite(t)
	b := s.as("administrator")
	for _, path := range []string{
		"/light", "/sign-in", "/setup", "/invite", "/units", "/units/QU-01", "/fluids", "/lines", "/benches", "/sites", "/people",
		"/people/P-0001/roles", "/people/P-0001/invite", "/people/P-0001/disable", "/account/sign-out-everywhere", "/sign-out",
	} {
		b.post(path, "state", "released").wants(422, `does not have a field "state"`)
	}
	if n := s.text("select count(*)::text from settlemark.acts where act = 'person disabled'"); n != "0" {
		t.Error("a refused form was taken")
	}
}

func TestLargeForm(t *testing.T) {
	s := newSite(t)
	b := s.as("administrator")
	b.post("/lines", "name", strings.Repeat("x", 300<<10), "site", "1").wants(422, "larger than 1 MB")
	b.post("/lines", "name", strings.Repeat("x", 20<<10), "site", "1").wants(422, "This text can't be read")
	b.post("/lines", "name", "a\x00b", "site", "1").wants(422, "This text can't be read")
}
