package web_test

import (
	"net/http"
	"os"
	"strings"
	"testing"
	"time"
)

// The table of testdata/permissions.txt, each cell against the app as it runs.
func TestPermissions(t *testing.T) {
	s := newSite(t)
	key := s.text("select key from settlemark.procedures limit 1")
	_, err := s.acts.StartRevision(t.Context(), s.people["engineer"], key, 1, time.Now())
	s.must(err)
	table, err := os.ReadFile("testdata/permissions.txt")
	s.must(err)
	roles := []string{"nobody", "engineer", "supervisor", "quality", "administrator"}
	browsers := map[string]*browser{}
	for _, role := range roles {
		browsers[role] = s.as(role)
	}
	cells := 0
	for line := range strings.Lines(string(table)) {
		fields := strings.Fields(line)
		if len(fields) == 0 || fields[0] == "#" {
			continue
		}
		method, path, answers := fields[0], strings.ReplaceAll(fields[1], "KEY", key), fields[2:]
		for i, role := range roles {
			a := browsers[role].do(method, path, nil)
			if got := outcome(a, path); got != answers[i] {
				t.Errorf("%s %s as %s is %q (%d), the table says %q: %s", method, path, role, got, a.status, answers[i], a.text())
			}
			if a.status == http.StatusForbidden && len(a.text()) < 40 {
				t.Errorf("%s %s as %s is refused without a sentence: %q", method, path, role, a.text())
			}
			cells++
		}
	}
	if cells < 100 {
		t.Fatalf("only %d cells were tried", cells)
	}
}

func outcome(a answer, path string) string {
	switch {
	case a.status == http.StatusSeeOther && strings.HasPrefix(a.header.Get("Location"), "/sign-in"):
		return "in"
	case a.status == http.StatusForbidden:
		return "no"
	case a.status == 200, a.status == 303, a.status == 422, a.status == 409:
		return "yes"
	}
	return http.StatusText(a.status) + " for " + path
}
