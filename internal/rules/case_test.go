package rules_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/tools/txtar"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
)

var update = flag.Bool("update", false, "write the assessments of testdata anew")

// TestCases judges whole logbooks. Each file under testdata holds one with its
// assessment; look at the difference before you commit what -update wrote.
func TestCases(t *testing.T) {
	files, err := filepath.Glob("testdata/*.txtar")
	if err != nil || len(files) == 0 {
		t.Fatal("no cases", err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			archive, err := txtar.ParseFile(file)
			if err != nil {
				t.Fatal(err)
			}
			logbook, want := archive.Files[0].Data, &archive.Files[1].Data
			book, err := commissioning.ParseLogbook(bytes.NewReader(logbook))
			if err != nil {
				t.Fatal(err)
			}
			var got bytes.Buffer
			if err := json.Indent(&got, rules.Encode(rules.Judge(book, book.At)), "", "  "); err != nil {
				t.Fatal(err)
			}
			if *update {
				*want = got.Bytes()
				if err := os.WriteFile(file, txtar.Format(archive), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			if diff := cmp.Diff(string(*want), got.String()); diff != "" {
				t.Error(diff)
			}
		})
	}
}
