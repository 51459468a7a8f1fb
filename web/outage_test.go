package web_test

import (
	"net/http"
	"strings"
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

// Everybody is told where what they record may be lost, administrators what the database promises.
func TestWeak(t *testing.T) {
	s := newSite(t)
	if says := s.as("engineer").get("/runs").body; strings.Contains(says, "may be lost") {
		t.Error(says)
	}
	s.screens.Weak = true
	if says := s.as("engineer").get("/runs").body; !strings.Contains(says, "may be lost in a crash or a power cut. Tell an administrator.") {
		t.Error(says)
	}
	if says := s.as("administrator").get("/sites").text(); !strings.Contains(says, "Grade C: what was acknowledged may be lost") { // servers of tests give it up for speed
		t.Error(says)
	}
}

// What a load balancer is told.
func TestReady(t *testing.T) {
	s := newSite(t) // no program seals here
	ready := func(status int, says string) {
		t.Helper()
		if a := s.browser().get("/readyz"); a.status != status || !strings.Contains(a.body, says) {
			t.Errorf("%d: %q, want %q", a.status, a.body, says)
		}
	}
	ready(http.StatusServiceUnavailable, "Nothing is sealed: no log is open.")
	s.screens.Data = "/nowhere"
	ready(http.StatusServiceUnavailable, "The disk of /nowhere is full, or can't be read.\nNothing is sealed")
	s.screens.Data = t.TempDir()
	newest := s.text("select max(version_id)::text from settlemark.schema_versions")
	s.change("delete from settlemark.schema_versions where version_id = " + newest)
	ready(http.StatusServiceUnavailable, "and this program needs "+newest+".\nNothing")
	s.db.Close()
	ready(http.StatusServiceUnavailable, "The database does not answer.\n")
}
