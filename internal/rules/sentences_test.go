package rules_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

var named = regexp.MustCompile("`([a-z]+)\\.(Test[A-Za-z]+)(?:/([^`]+))?`")

// TestSentences checks that every test that SENTENCES.md names exists.
func TestSentences(t *testing.T) {
	data, err := os.ReadFile("SENTENCES.md")
	if err != nil {
		t.Fatal(err)
	}
	tests := map[string]map[string]bool{}
	for room, dir := range map[string]string{"rules": ".", "measure": "../measure", "commissioning": "../commissioning", "cmd": "../../cmd/settlemark"} {
		tests[room] = testsOf(t, dir)
	}
	count := 0
	for line := range strings.Lines(string(data)) {
		if !strings.HasPrefix(line, "- ") {
			continue
		}
		found := named.FindAllStringSubmatch(line, -1)
		if len(found) == 0 {
			t.Errorf("no test: %s", line)
		}
		for _, name := range found {
			count++
			room, known := tests[name[1]]
			if full := strings.TrimSuffix(name[2]+"/"+name[3], "/"); !known || !room[full] {
				t.Errorf("%s has no test %s", name[1], full)
			}
		}
	}
	if count < 150 {
		t.Errorf("found %d tests only", count)
	}
}

// testsOf lists the tests of a folder: each function alone, and with every
// text in it and every file of testdata as the name of a case.
func testsOf(t *testing.T, dir string) map[string]bool {
	t.Helper()
	names := map[string]bool{}
	files, err := filepath.Glob(filepath.Join(dir, "*_test.go"))
	if err != nil || len(files) == 0 {
		t.Fatal("no tests in", dir, err)
	}
	scripts, err := filepath.Glob(filepath.Join(dir, "testdata", "*.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, declared := range parsed.Decls {
			function, ok := declared.(*ast.FuncDecl)
			if !ok || !strings.HasPrefix(function.Name.Name, "Test") {
				continue
			}
			names[function.Name.Name] = true
			for _, script := range scripts {
				names[function.Name.Name+"/"+strings.TrimSuffix(filepath.Base(script), ".txtar")] = true
			}
			ast.Inspect(function, func(n ast.Node) bool {
				if text, ok := n.(*ast.BasicLit); ok && text.Kind == token.STRING {
					if name, err := strconv.Unquote(text.Value); err == nil {
						names[function.Name.Name+"/"+name] = true
					}
				}
				return true
			})
		}
	}
	return names
}
