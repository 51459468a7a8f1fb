package settlemark_test

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// TestASVS holds the table of web security to tests that exist.
func TestASVS(t *testing.T) {
	doc, err := os.ReadFile("docs/asvs.md")
	if err != nil {
		t.Fatal(err)
	}
	named := regexp.MustCompile("`([a-z0-9_/]+_test\\.go) (Test[A-Za-z0-9_]+)`").FindAllStringSubmatch(string(doc), -1)
	if len(named) < 30 {
		t.Errorf("it names %d tests, so this shows nothing", len(named))
	}
	for _, n := range named {
		source, err := os.ReadFile(n[1])
		if err != nil || !strings.Contains(string(source), "func "+n[2]+"(") {
			t.Errorf("%s has no %s (%v)", n[1], n[2], err)
		}
	}
}
