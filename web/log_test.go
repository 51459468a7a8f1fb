package web_test

import (
	"net/http"
	"strings"
	"testing"
)

func TestLog(t *testing.T) {
	s := newSite(t) // no program seals here
	t.Run("who can see to it is told when nothing is sealed", func(t *testing.T) {
		for role, told := range map[string]bool{"engineer": false, "quality": true} {
			if a := s.as(role).get("/account"); strings.Contains(a.body, "Nothing is sealed") != told {
				t.Errorf("%s: %s", role, a.text())
			}
		}
	})
	t.Run("health says so and stays well", func(t *testing.T) {
		if a := s.as("nobody").get("/healthz"); a.status != http.StatusOK || !strings.Contains(a.body, "ok\nNothing is sealed") {
			t.Errorf("%d: %s", a.status, a.body)
		}
	})
	t.Run("policy and checkpoint are open to everybody", func(t *testing.T) {
		if a := s.as("nobody").get("/log/policy.txt"); a.status != http.StatusOK || a.body != "quorum none\n" {
			t.Errorf("%d: %s", a.status, a.body)
		}
		if a := s.as("nobody").get("/log/checkpoint"); a.status != http.StatusNotFound {
			t.Errorf("%d before anything is sealed", a.status)
		}
	})
}
