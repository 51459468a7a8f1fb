package settlemark_test

import (
	"os"
	"os/exec"
	"path"
	"regexp"
	"strings"
	"testing"
)

// TestThirdParty holds the table of licences to what is linked into the program.
func TestThirdParty(t *testing.T) {
	text, err := os.ReadFile("THIRD-PARTY.md")
	if err != nil {
		t.Fatal(err)
	}
	table, _, _ := strings.Cut(string(text), "## Used by tests and tools only")
	out, err := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{.Path}}{{end}}", "./cmd/settlemark").Output()
	if err != nil {
		t.Fatal(err)
	}
	version := regexp.MustCompile(`(/|\.)v[0-9]+$`)
	linked := 0
	for module := range strings.Lines(string(out)) {
		module = strings.TrimSpace(module)
		if module == "" || module == "settlemark" {
			continue
		}
		linked++
		name := path.Base(version.ReplaceAllString(module, ""))
		if !regexp.MustCompile(`[/ ]` + regexp.QuoteMeta(name) + `\b`).MatchString(table) {
			t.Errorf("%s is linked into the program and has no row in THIRD-PARTY.md", module)
		}
	}
	if linked < 20 {
		t.Errorf("%d modules, so this shows nothing", linked)
	}
}
