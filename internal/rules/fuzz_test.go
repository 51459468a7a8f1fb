package rules_test

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/tools/txtar"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
)

// FuzzJudge reads anything: a refusal is one line, and what is taken is judged
// without a panic and to the same bytes again from its canonical form.
func FuzzJudge(f *testing.F) {
	files, err := filepath.Glob("testdata/*.txtar")
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range files {
		archive, err := txtar.ParseFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(archive.Files[0].Data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		book, err := commissioning.ParseLogbook(bytes.NewReader(data))
		if err != nil {
			if strings.ContainsAny(err.Error(), "\r\n") {
				t.Fatalf("%q is not one line", err)
			}
			return
		}
		first := rules.Encode(rules.Judge(book, book.At))
		canonical, err := json.Marshal(book)
		if err != nil {
			t.Fatal(err)
		}
		again, err := commissioning.ParseLogbook(bytes.NewReader(canonical))
		if err != nil {
			t.Fatalf("%v\n%s", err, canonical)
		}
		if second := rules.Encode(rules.Judge(again, again.At)); !bytes.Equal(first, second) {
			t.Fatalf("%s\n%s", first, second)
		}
	})
}
