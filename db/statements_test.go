package db_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"settlemark/db/dbtest"
)

// A misspelt column or function fails here and not in front of a person.
func TestStatements(t *testing.T) {
	conn := dbtest.Connect(t, dbtest.New(t).AppURL)
	defer conn.Close(t.Context())
	statements := constants(t)
	if len(statements) < 50 {
		t.Fatalf("found %d statements, expected all of them", len(statements))
	}
	for name, statement := range statements {
		t.Run(name, func(t *testing.T) {
			if _, err := conn.Prepare(t.Context(), name, numbered(statement)); err != nil {
				t.Errorf("%v", err)
			}
		})
	}
}

// constants gives every string constant of the package that is a statement.
func constants(t *testing.T) map[string]string {
	found := map[string]string{}
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			spec, isValue := n.(*ast.ValueSpec)
			if !isValue || len(spec.Values) != 1 || strings.HasSuffix(name, "_test.go") {
				return true
			}
			literal, isLiteral := spec.Values[0].(*ast.BasicLit)
			if !isLiteral || literal.Kind != token.STRING {
				return true
			}
			text, err := strconv.Unquote(literal.Value)
			if err == nil && statement.MatchString(text) {
				found[fmt.Sprintf("%s in %s", spec.Names[0].Name, name)] = text
			}
			return true
		})
	}
	return found
}

var (
	statement = regexp.MustCompile(`(?s)^\s*(select|insert|update|delete|with)\s`)
	argument  = regexp.MustCompile(`@([a-z0-9_]+)`)
)

// numbered rewrites @names as $1, $2 …
func numbered(statement string) string {
	numbers := map[string]int{}
	return argument.ReplaceAllStringFunc(statement, func(name string) string {
		if numbers[name] == 0 {
			numbers[name] = len(numbers) + 1
		}
		return fmt.Sprintf("$%d", numbers[name])
	})
}
