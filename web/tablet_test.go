package web_test

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"settlemark/internal/urls"
	"settlemark/web"
)

func TestWorker(t *testing.T) {
	s := newSite(t)
	b := s.browser()
	t.Run("every_file_that_the_worker_keeps_is_served", func(t *testing.T) {
		a := b.get(urls.WorkerPattern).wants(200)
		a.hardened("the worker")
		if a.header.Get("Cache-Control") != "no-cache" || !strings.HasPrefix(a.header.Get("Content-Type"), "text/javascript") {
			t.Errorf("%q, %q", a.header.Get("Cache-Control"), a.header.Get("Content-Type"))
		}
		list := regexp.MustCompile(`ASSETS = (\[.*?\])`).FindStringSubmatch(a.body)
		var assets []string
		if list == nil {
			t.Fatal("it lists nothing")
		}
		s.must(json.Unmarshal([]byte(list[1]), &assets))
		if len(assets) < 10 {
			t.Errorf("only %d files", len(assets))
		}
		for _, asset := range assets {
			b.get(asset).wants(200)
		}
	})
	t.Run("the_page_that_the_worker_keeps_names_nobody", func(t *testing.T) {
		a := s.as("engineer").get(urls.OfflinePattern).wants(200, "On this tablet")
		a.sound("on this tablet")
		if !strings.Contains(a.body, "The engineer") {
			t.Error("it does not name its reader")
		}
		if stranger := b.get(urls.OfflinePattern).wants(200, "On this tablet"); strings.Contains(stranger.body, "The engineer") {
			t.Error("it names somebody")
		}
	})
	t.Run("switched_off_it_takes_itself_away", func(t *testing.T) {
		off := httptest.NewServer(web.Handler(s.screens, web.Config{NoWorker: true}))
		defer off.Close()
		gone := s.browser()
		gone.base = off.URL
		if a := gone.get(urls.WorkerPattern).wants(200); !strings.Contains(a.body, "unregister()") || strings.Contains(a.body, "fetch") {
			t.Error("it stays")
		}
	})
}

func TestManifest(t *testing.T) {
	s := newSite(t)
	b := s.browser()
	a := b.get(urls.ManifestPattern).wants(200)
	a.hardened("the manifest")
	var m struct {
		Name     string
		StartURL string `json:"start_url"`
		Scope    string
		Display  string
		Icons    []struct{ Src, Sizes, Purpose string }
	}
	s.must(json.Unmarshal([]byte(a.body), &m))
	sizes := map[string]bool{}
	for _, icon := range m.Icons {
		b.get(icon.Src).wants(200)
		sizes[icon.Sizes+" "+icon.Purpose] = true
	}
	// What Chromium asks of a site that can be installed: web.dev/articles/install-criteria.
	if m.Name == "" || m.Display != "standalone" || m.Scope != "/" || !sizes["192x192 any"] || !sizes["512x512 any"] {
		t.Errorf("%+v", m)
	}
	if s.as("engineer").get(m.StartURL).status != http.StatusOK {
		t.Errorf("it starts at %s", m.StartURL)
	}
}

func TestClock(t *testing.T) {
	s := newSite(t)
	before := s.screens.Now().UnixMilli()
	a := s.browser().get(urls.ClockPattern).wants(200)
	a.hardened("the clock")
	var clock struct{ Now int64 }
	s.must(json.Unmarshal([]byte(a.body), &clock))
	if clock.Now < before || clock.Now > s.screens.Now().UnixMilli() {
		t.Errorf("%d, before it was %d", clock.Now, before)
	}
	if a.header.Get("Cache-Control") != "no-store" || a.header.Get("Set-Cookie") != "" {
		t.Errorf("%q, cookie %q", a.header.Get("Cache-Control"), a.header.Get("Set-Cookie"))
	}
}
