package web_test

import (
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"settlemark/static"
	"settlemark/web"
)

// wanted is what every answer carries. The policy is: own
// files only, no inline script, no inline style, no frame.
var wanted = map[string]string{
	"Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; font-src 'self'; " +
		"connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'",
	"X-Content-Type-Options":       "nosniff",
	"Referrer-Policy":              "no-referrer",
	"Cross-Origin-Opener-Policy":   "same-origin",
	"Cross-Origin-Resource-Policy": "same-origin",
	"Permissions-Policy":           "camera=(self), microphone=(), geolocation=(), payment=(), usb=()",
	"Strict-Transport-Security":    "max-age=31536000; includeSubDomains",
}

var parameter = regexp.MustCompile(`\{[a-z0-9]+\}`)

// somewhere fills the parameters of a pattern with what is not there.
func somewhere(pattern string) string { return parameter.ReplaceAllString(pattern, "0") }

func (a answer) hardened(what string) {
	a.t.Helper()
	for name, want := range wanted {
		if got := a.header.Get(name); got != want && (name != "Cross-Origin-Resource-Policy" || !strings.HasPrefix(a.header.Get("Cache-Control"), "public")) {
			a.t.Errorf("%s: %s is %q", what, name, got)
		}
	}
	if a.header.Get("Server") != "" || a.header.Get("X-Powered-By") != "" {
		a.t.Errorf("%s tells what it runs on", what)
	}
	if a.status != http.StatusNoContent && a.header.Get("Content-Type") == "" && a.body != "" {
		a.t.Errorf("%s has no Content-Type", what)
	}
	for _, c := range a.header.Values("Set-Cookie") {
		if !strings.Contains(c, "Secure") || !strings.Contains(c, "HttpOnly") || !strings.Contains(c, "SameSite=Lax") {
			a.t.Errorf("%s sets %q", what, c)
		}
	}
}

func TestHeaders(t *testing.T) {
	s := newSite(t)
	for _, who := range []string{"nobody", "engineer", "quality"} {
		b := s.as(who)
		for _, route := range web.Routes(s.screens) {
			if strings.HasSuffix(route.Pattern, "/events") {
				continue // an endless answer; its headers are tested with the hub
			}
			if route.Pattern == "/sign-out" || route.Pattern == "/account/sign-out-everywhere" {
				continue // would end this walk
			}
			a := b.do(route.Method, somewhere(route.Pattern), nil)
			what := who + " " + route.Method + " " + route.Pattern
			a.hardened(what)
			if a.status >= 500 && a.status != http.StatusServiceUnavailable {
				t.Errorf("%s answers %d: %s", what, a.status, a.text())
			}
			if !strings.Contains(a.header.Get("Cache-Control"), "no-store") && (!route.Public || a.status != http.StatusOK) {
				t.Errorf("%s may be cached: %q", what, a.header.Get("Cache-Control"))
			}
		}
		for _, path := range []string{"/nowhere", "/units/QU-01/nowhere", "/assets/none.css", "/healthz", "/%2e%2e/etc/passwd"} {
			b.get(path).hardened(who + " GET " + path)
		}
		b.do(http.MethodPut, "/units", nil).hardened(who + " PUT /units")
	}
}

func TestMethods(t *testing.T) {
	s := newSite(t)
	b := s.as("administrator")
	for _, route := range web.Routes(s.screens) {
		for _, method := range []string{http.MethodTrace, http.MethodPut, http.MethodDelete, http.MethodPatch} {
			if a := b.do(method, somewhere(route.Pattern), nil); a.status != http.StatusMethodNotAllowed && a.status != http.StatusForbidden {
				t.Errorf("%s %s answers %d", method, route.Pattern, a.status)
			}
		}
	}
}

func TestAssets(t *testing.T) {
	s := newSite(t)
	a := s.browser().get(static.URL("css/settlemark.css"))
	if a.status != 200 || a.header.Get("Cache-Control") != "public, max-age=31536000, immutable" {
		t.Errorf("%d, %q", a.status, a.header.Get("Cache-Control"))
	}
	if a.header.Get("Set-Cookie") != "" {
		t.Error("a file sets a cookie")
	}
	s.browser().get("/assets/settlemark-000000000000.css").wants(404)
}

func TestPanic(t *testing.T) {
	s := newSite(t)
	secret := "canary-in-a-panic"
	broken := httptest.NewServer(web.Broken(s.screens, func(http.ResponseWriter, *http.Request) { panic(secret) }))
	t.Cleanup(broken.Close)
	b := s.browser()
	b.base = broken.URL
	a := b.get("/").wants(500, "Something went wrong here")
	if strings.Contains(a.body, secret) || strings.Contains(a.body, "goroutine") {
		t.Error("the page shows the cause")
	}
	if !strings.Contains(s.log.String(), secret) {
		t.Error("the log does not have the cause")
	}
}
