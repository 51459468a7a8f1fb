package web_test

import (
	"crypto/x509"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"settlemark/internal/trust"
	"settlemark/web"
)

func TestPlain(t *testing.T) {
	s := newSite(t)
	s.screens.PublicURL = "https://settlemark.brackenhill.example:8443"
	a, _, err := trust.OpenAuthority(filepath.Join(t.TempDir(), "authority.pem"), []string{"settlemark.brackenhill.example"}, time.Now())
	s.must(err)
	s.browser().get("/trust").wants(404, "no authority of its own")
	s.screens.Authority = a
	plain, err := web.Plain(s.screens, web.Config{})
	s.must(err)
	ask := func(method, target, host string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, "/", nil)
		r.URL.Path, r.URL.RawQuery, _ = strings.Cut(target, "?")
		r.Host = host
		w := httptest.NewRecorder()
		plain.ServeHTTP(w, r)
		if w.Header().Get("Strict-Transport-Security") != "" || w.Header().Get("Set-Cookie") != "" {
			t.Errorf("%s %s sets what only https may", method, target)
		}
		return w
	}
	t.Run("leads_to_the_site_and_never_elsewhere", func(t *testing.T) {
		for target, want := range map[string]string{
			"/": "/", "/sign-in": "/sign-in", "/units/QU-01?x=1&y=%2F": "/units/QU-01?x=1&y=%2F", "/healthz": "/healthz",
			"//elsewhere.example/a": "//elsewhere.example/a", "": "", `/\elsewhere.example`: "/%5Celsewhere.example", "@elsewhere.example": "/@elsewhere.example",
		} {
			w := ask(http.MethodGet, target, "elsewhere.example")
			if got := w.Header().Get("Location"); w.Code != http.StatusPermanentRedirect || got != s.screens.PublicURL+want {
				t.Errorf("%q: %d to %q", target, w.Code, got)
			}
		}
	})
	t.Run("takes_no_form", func(t *testing.T) {
		for _, path := range []string{"/sign-in", "/trust", "/light", "/runs"} {
			if w := ask(http.MethodPost, path, "settlemark.brackenhill.example"); w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), s.screens.PublicURL) {
				t.Errorf("%s: %d %s", path, w.Code, w.Body)
			}
		}
	})
	t.Run("shows_the_authority_with_its_fingerprint", func(t *testing.T) {
		page := ask(http.MethodGet, "/trust", "192.0.2.7")
		shown := strings.Join(strings.Split(page.Body.String(), "</span><span>"), ":")
		if page.Code != 200 || !strings.Contains(shown, trust.Fingerprint(a.Certificate)) || !strings.Contains(shown, "settlemark.brackenhill.example, and no other site") {
			t.Errorf("%d %s", page.Code, page.Body)
		}
		crt := ask(http.MethodGet, "/trust/settlemark-authority.crt", "192.0.2.7")
		c, err := x509.ParseCertificate(crt.Body.Bytes())
		if err != nil || !c.Equal(a.Certificate) || crt.Header().Get("Content-Type") != "application/x-x509-ca-cert" {
			t.Errorf("%v, %q", err, crt.Header().Get("Content-Type"))
		}
		text := ask(http.MethodGet, "/trust/settlemark-authority.pem", "192.0.2.7")
		if !x509.NewCertPool().AppendCertsFromPEM(text.Body.Bytes()) || strings.Contains(text.Body.String(), "PRIVATE") {
			t.Errorf("%s", text.Body)
		}
	})
	t.Run("https_shows_the_same_page", func(t *testing.T) {
		s.browser().get("/trust").wants(200, "Trust this site")
	})
}

func TestHSTS(t *testing.T) {
	s := newSite(t)
	r := httptest.NewRequest(http.MethodGet, "/sign-in", nil)
	w := httptest.NewRecorder()
	web.Handler(s.screens, web.Config{}).ServeHTTP(w, r)
	if got := w.Header().Get("Strict-Transport-Security"); got != "" {
		t.Errorf("http says %q", got)
	}
}
