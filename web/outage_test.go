package web_test

import (
	"net/http"
	"testing"
)

// What a person is told while the database can't be reached.
func TestOutage(t *testing.T) {
	s := newSite(t)
	b := s.as("engineer")
	s.db.Close()
	t.Run("health_says_so", func(t *testing.T) {
		if a := b.get("/healthz"); a.status != http.StatusServiceUnavailable || a.header.Get("Retry-After") == "" {
			t.Errorf("%d, Retry-After %q", a.status, a.header.Get("Retry-After"))
		}
	})
	t.Run("a_page_is_an_error_page_with_a_sentence", func(t *testing.T) {
		a := b.get("/units")
		a.hardened("/units")
		if a.status < 500 || len(a.text()) < 40 {
			t.Errorf("%d: %q", a.status, a.text())
		}
	})
}
