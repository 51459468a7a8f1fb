package web_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
)

// sound checks what every page must be: one language, title and heading, a
// skip link that leads somewhere, labels on fields, and nothing that the
// content policy would refuse.
func (a answer) sound(what string) {
	a.t.Helper()
	doc := a.page()
	if !strings.HasPrefix(a.body, "<!doctype html>") {
		a.t.Errorf("%s has no doctype", what)
	}
	for selector, want := range map[string]int{"html[lang]": 1, "head>title": 1, "h1": 1, "main#main": 1, "a.skip[href='#main']": 1, ".demo-strip": 1} {
		if n := doc.Find(selector).Length(); n != want {
			a.t.Errorf("%s has %d %s, wants %d", what, n, selector, want)
		}
	}
	if title := strings.TrimSpace(doc.Find("head>title").Text()); !strings.HasSuffix(title, ", Settlemark") || strings.HasPrefix(title, ",") {
		a.t.Errorf("%s has the title %q", what, title)
	}
	ids := map[string]bool{}
	doc.Find("*").Each(func(_ int, e *goquery.Selection) { a.element(what, e, ids) })
	doc.Find("label[for]").Each(func(_ int, e *goquery.Selection) { a.refers(what, ids, e.AttrOr("for", "")) })
	doc.Find("[aria-describedby]").Each(func(_ int, e *goquery.Selection) {
		a.refers(what, ids, strings.Fields(e.AttrOr("aria-describedby", ""))...)
	})
	doc.Find("a[href^='#']").Each(func(_ int, e *goquery.Selection) {
		a.refers(what, ids, strings.TrimPrefix(e.AttrOr("href", ""), "#"))
	})
	doc.Find("input:not([type=hidden]),select,textarea").Each(func(_ int, e *goquery.Selection) {
		id := e.AttrOr("id", "")
		if e.ParentsFiltered("label").Length() == 0 && doc.Find("label[for='"+id+"']").Length() == 0 {
			a.t.Errorf("%s has a field without a label: %s", what, e.AttrOr("name", ""))
		}
	})
}

func (a answer) element(what string, e *goquery.Selection, ids map[string]bool) {
	a.t.Helper()
	for _, attribute := range e.Nodes[0].Attr {
		if attribute.Key == "style" || strings.HasPrefix(attribute.Key, "on") {
			a.t.Errorf("%s has %s=%q, which the content policy refuses", what, attribute.Key, attribute.Val)
		}
		if attribute.Key == "id" {
			if ids[attribute.Val] {
				a.t.Errorf("%s has the id %q twice", what, attribute.Val)
			}
			ids[attribute.Val] = true
		}
	}
	if name := goquery.NodeName(e); name == "style" || name == "script" && e.AttrOr("src", "") == "" {
		a.t.Errorf("%s has an inline %s", what, name)
	}
}

func (a answer) refers(what string, ids map[string]bool, to ...string) {
	a.t.Helper()
	for _, id := range to {
		if !ids[id] {
			a.t.Errorf("%s refers to #%s, which is not there", what, id)
		}
	}
}

func TestPages(t *testing.T) {
	s := newSite(t)
	key := s.text("select key from settlemark.procedures limit 1")
	pages := map[string][]string{
		"nobody":        {"/sign-in", "/setup", "/invite?code=abc", "/offline", "/nowhere"},
		"engineer":      {"/account", "/units", "/units/QU-01", "/fluids", "/procedures", "/procedures/" + key + "/1", "/people", "/nowhere"},
		"supervisor":    {"/units?x=1", "/units/QU-01?change=yes", "/lines", "/lines?change=1", "/benches", "/instruments", "/fluids?change=K-20", "/trail", "/trail?what=nothing", "/clauses"},
		"quality":       {"/procedures", "/procedures/" + key + "/1", "/procedures/none/1", "/procedures/" + key + "/x"},
		"administrator": {"/people", "/people/P-0002", "/people/P-9999", "/sites", "/sites?change=1", "/lines?change=99", "/trail?what=people"},
	}
	assets := map[string]bool{}
	for who, paths := range pages {
		b := s.as(who)
		for _, path := range paths {
			a := b.get(path)
			if a.status >= 500 {
				t.Errorf("%s as %s answers %d", path, who, a.status)
			}
			a.sound(path + " as " + who)
			a.page().Find("link[href],script[src]").Each(func(_ int, e *goquery.Selection) {
				assets[e.AttrOr("href", e.AttrOr("src", ""))] = true
			})
		}
	}
	for asset := range assets {
		if a := s.browser().get(asset); a.status != 200 {
			t.Errorf("%s answers %d", asset, a.status)
		}
	}
	t.Run("links_of_the_navigation_lead_somewhere", func(t *testing.T) {
		for _, who := range []string{"engineer", "supervisor", "quality", "administrator"} {
			b := s.as(who)
			b.get("/account").page().Find(".navstick .places a").Each(func(_ int, e *goquery.Selection) {
				href := e.AttrOr("href", "")
				if a := b.get(href); a.status != 200 {
					t.Errorf("%s of %s answers %d: %s", href, who, a.status, a.text())
				}
			})
		}
	})
	t.Run("somebody_with_several_roles_sees_the_union", func(t *testing.T) {
		s.add("both", s.people["engineer"].Grants[0], s.people["quality"].Grants[0])
		var places []string
		s.as("both").get("/account").page().Find(".navstick .places a").Each(func(_ int, e *goquery.Selection) {
			places = append(places, e.Text())
		})
		if got := strings.Join(places, ", "); got != "My runs, Start a run, On this tablet, Board, Certificates, Recall a lot, Procedures, Audit trail, Units, Proposals" {
			t.Errorf("places: %s", got)
		}
	})
	t.Run("glare_is_kept_by_a_cookie", func(t *testing.T) {
		b := s.as("engineer")
		b.post("/light", "light", "glare", "back", "/units").leadsTo("/units")
		if v := b.get("/units").page().Find("html").AttrOr("data-light", ""); v != "glare" {
			t.Errorf("data-light is %q", v)
		}
	})
	t.Run("a_script_that_needs_a_sign_in_is_sent_there", func(t *testing.T) {
		a := s.browser().do(http.MethodGet, "/units", nil, "HX-Request", "true")
		if a.status != http.StatusUnauthorized || a.header.Get("HX-Redirect") != "/sign-in?then=%2Funits" {
			t.Errorf("%d, %q", a.status, a.header.Get("HX-Redirect"))
		}
	})
}
