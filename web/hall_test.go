package web_test

import (
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
)

// hung makes a screen for a site through the page, and gives its link.
func (s *site) hung(site commissioning.SiteID) string {
	s.t.Helper()
	a := s.as("administrator").post("/screens", s.proven("name", "Over line 1", "site", strconv.Itoa(int(site)), "days", "30")...)
	link := a.page().Find(".code-once").Text()
	if a.status != http.StatusOK || !strings.HasPrefix(link, s.server.URL+"/hall/open?token=") {
		s.t.Fatalf("%d %q: %s", a.status, link, a.text())
	}
	return strings.TrimPrefix(link, s.server.URL)
}

// A screen in the hall shows its site's board to whoever walks past, and nothing
// else of the app; it is shut out at once.
func TestHallScreen(t *testing.T) {
	b := newBench(t)
	b.change("update settlemark.sites set language = 'de' where id = 1")
	elsewhere, err := b.acts.SaveSite(t.Context(), b.admin, commissioning.Site{Name: "Elsewhere", Address: "2 Lane", TimeZone: "Europe/Dublin", Paper: "A4"}, time.Now())
	b.must(err)
	line, err := b.acts.SaveLine(t.Context(), b.admin, commissioning.Line{Site: elsewhere.ID, Name: "Line 9"}, time.Now())
	b.must(err)
	_, err = b.acts.SaveUnit(t.Context(), b.admin, commissioning.Unit{Tag: "EL-01", Site: elsewhere.ID, LineID: line.ID, Serial: "8", Ink: "K-20", Makeup: "K-20M"}, time.Now())
	b.must(err)

	if a := b.browser().get(urls.HallPattern); a.status != http.StatusUnauthorized || a.page().Find("a:not(.skip)").Length() > 0 {
		t.Errorf("without a cookie: %d %s", a.status, a.text())
	}
	link := b.hung(b.works.ID)
	screen := b.browser()
	opened := screen.get(link)
	opened.leadsTo(urls.HallPattern)
	cookie := cookieOf(opened, "__Host-settlemark-hall")
	for _, attribute := range []string{"Path=/", "HttpOnly", "Secure", "SameSite=Lax", "Expires="} {
		if !strings.Contains(cookie, attribute) {
			t.Errorf("the cookie lacks %s: %s", attribute, cookie)
		}
	}
	secrets := []string{strings.TrimPrefix(link, "/hall/open?token="), value(cookie)}

	t.Run("the link works once", func(t *testing.T) {
		if a := b.browser().get(link); a.status != http.StatusUnauthorized || cookieOf(a, "__Host-settlemark-hall") != "" {
			t.Errorf("%d %s", a.status, a.text())
		}
		screen.get(link).leadsTo(urls.HallPattern) // where it was opened it leads on
	})
	t.Run("the board of its site, in its language, without names, links or forms", func(t *testing.T) {
		a := screen.get(urls.HallPattern)
		a.wants(http.StatusOK, "QU-01")
		if strings.Contains(a.body, "EL-01") {
			t.Error("another site's unit is shown")
		}
		if lang, _ := a.page().Find("html").Attr("lang"); lang != "de" {
			t.Errorf("it is in %q", lang)
		}
		shown := a.page()
		shown.Find("template, dialog").Remove() // of scripts that this page does not need
		if touch := shown.Find("a:not(.skip), form, button, nav"); touch.Length() > 0 {
			t.Errorf("there is something to touch: %s", touch.Text())
		}
		b.nameless(t, a.body)
	})
	t.Run("a run that begins is told live, without who began it", func(t *testing.T) {
		watching := screen.stream(urls.HallEventsPattern)
		watching.more(2 * time.Second)
		b.start(b.as("engineer"))
		b.screens.Live.Mark(b.run)
		_, said := watching.more(2 * time.Second)
		if !strings.Contains(said, "t-work") {
			t.Errorf("it was told %.600s", said)
		}
		b.nameless(t, said)
	})
	t.Run("the cookie opens nothing else", func(t *testing.T) {
		for _, path := range []string{"/board", "/board/events", "/units", urls.Run(b.run)} {
			if a := screen.get(path); a.status != http.StatusSeeOther {
				t.Errorf("%s answers %d", path, a.status)
			}
		}
	})
	t.Run("neither link nor cookie is in the log or in the database", func(t *testing.T) {
		rows := b.text("select string_agg(s::text, ' ') from settlemark.hall_screens s")
		for _, secret := range secrets {
			if secret == "" || strings.Contains(b.log.String(), secret) || strings.Contains(rows, secret) {
				t.Errorf("%q is where it can be read", secret)
			}
		}
	})
	t.Run("ended, it is shut out at once, its stream too", func(t *testing.T) {
		watching := screen.stream(urls.HallEventsPattern)
		watching.more(2 * time.Second)
		b.as("administrator").post(urls.HallScreenEnd(strings.Split(secrets[0], "_")[1])).leadsTo(urls.HallScreensPattern)
		ended := time.After(10 * time.Second) // before the next beat
		for open := true; open; {
			select {
			case part, more := <-watching.heard:
				watching.all.Write(part)
				open = more
			case <-ended:
				t.Fatal("the stream goes on")
			}
		}
		if !strings.HasSuffix(watching.text(), "event: over\ndata:\n\n") {
			t.Errorf("the screen is not told: %q", watching.text())
		}
		for _, path := range []string{urls.HallPattern, urls.HallEventsPattern, link} {
			if a := screen.get(path); a.status != http.StatusUnauthorized {
				t.Errorf("%s answers %d", path, a.status)
			}
		}
		if acts := b.text("select string_agg(act, ', ' order by id) from settlemark.acts where act like 'hall screen%'"); acts != "hall screen made, hall screen ended" {
			t.Errorf("the audit trail has %q", acts)
		}
	})
	t.Run("one that ran out is shut out", func(t *testing.T) {
		link, late := b.hung(b.works.ID), b.browser()
		late.get(link).leadsTo(urls.HallPattern)
		b.change("update settlemark.hall_screens set made_at = now() - interval '2 days', expires_at = now() - interval '1 day'")
		if a := late.get(urls.HallPattern); a.status != http.StatusUnauthorized {
			t.Errorf("%d", a.status)
		}
	})
	t.Run("without a proof of identity none is made", func(t *testing.T) {
		before := b.text("select count(*)::text from settlemark.hall_screens")
		form := append([]string{}, b.proven("name", "Hall", "site", "1", "days", "30")...)
		form[len(form)-1] = "000000"
		if a := b.as("administrator").post("/screens", form...); a.status != 422 || b.text("select count(*)::text from settlemark.hall_screens") != before {
			t.Errorf("%d %s", a.status, a.text())
		}
	})
}

// nameless fails when a text names anybody.
func (s *site) nameless(t *testing.T, text string) {
	t.Helper()
	for _, p := range s.people {
		if strings.Contains(text, p.Name) || strings.Contains(text, string(p.ID)) {
			t.Errorf("it names %s, %s", p.ID, p.Name)
		}
	}
}
