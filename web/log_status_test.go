package web_test

import (
	"net/http"
	"path/filepath"
	"testing"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/ledger"
)

// The list is for people without a sign-in, who check certificates elsewhere.
func TestLogStatus(t *testing.T) {
	s := newSite(t)
	s.acts.Log = act.Log{Key: filepath.Join(t.TempDir(), "keys", "log.key"), Host: "press.example"}
	stranger := s.browser()
	t.Run("is busy until the first list is made", func(t *testing.T) {
		a := stranger.get("/log/status")
		if a.status != http.StatusServiceUnavailable || a.header.Get("Retry-After") == "" {
			t.Errorf("%d %v", a.status, a.header)
		}
	})
	s.must(s.acts.OpenLog(t.Context(), time.Now()))
	_, err := s.acts.Seal(t.Context(), time.Now())
	s.must(err)
	_, err = s.acts.IssueStatusList(t.Context(), time.Now())
	s.must(err)
	t.Run("is read with the site's policy and may be cached for a minute", func(t *testing.T) {
		policy, err := ledger.ReadPolicy([]byte(stranger.get("/log/policy.txt").body))
		s.must(err)
		a := stranger.get("/log/status")
		l, err := ledger.ReadStatusList([]byte(a.body), policy)
		s.must(err)
		if l.LogSize == 0 || !l.NextUpdate.After(time.Now()) {
			t.Errorf("%+v", l)
		}
		if a.header.Get("Cache-Control") != "public, max-age=60" || a.header.Get("Set-Cookie") != "" ||
			a.header.Get("Content-Type") != "text/plain; charset=utf-8" {
			t.Errorf("%v", a.header)
		}
		if again := stranger.do(http.MethodGet, "/log/status", nil, "If-None-Match", a.header.Get("ETag")); again.status != http.StatusNotModified {
			t.Errorf("the same list again: %d", again.status)
		}
	})
}
