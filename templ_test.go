package settlemark_test

import (
	"fmt"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	templ "github.com/a-h/templ/parser/v2"
)

// ofEveryLanguage are words in templates that no reader's language changes.
var ofEveryLanguage = []string{"Settlemark", "SHA-256", "CSV", "JSON", "YAML", "min", "mL"}

// saidAttributes are the attributes that people see or hear.
var saidAttributes = []string{"aria-label", "title", "placeholder", "alt", "data-label"}

var (
	aWord     = regexp.MustCompile(`\p{L}{2}`)
	aLiteral  = regexp.MustCompile(`"(?:[^"\\]|\\.)*"`)
	aSentence = regexp.MustCompile(`^"\p{Lu}\p{Ll}`)
	saying    = regexp.MustCompile(`\b(?:parts\.)?(?:T|Tf|Tn|Sentence)\(|words\.(?:Say|Many|Plain)\(`)
)

// What a template writes is said in the reader's language: no bare text, no bare
// attribute, no sentence in an expression but through the functions that say it.
func TestTemplatesSayNothingBare(t *testing.T) {
	files, err := filepath.Glob("templates/*.templ")
	if err != nil {
		t.Fatal(err)
	}
	more, err := filepath.Glob("templates/parts/*.templ")
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range append(files, more...) {
		file, err := templ.Parse(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, what := range bare(reflect.ValueOf(file.Nodes)) {
			t.Errorf("%s: %s is not said in the reader's language; say it with parts.T", path, what)
		}
	}
	if len(files) < 40 {
		t.Fatalf("only %d templates were found, so this shows nothing", len(files))
	}
}

// bare finds what a tree of a template says by itself.
func bare(v reflect.Value) []string {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			return nil
		}
		if found := bareNode(v.Interface()); found != "" {
			return []string{found}
		}
		return bare(v.Elem())
	case reflect.Slice:
		var all []string
		for i := range v.Len() {
			all = append(all, bare(v.Index(i))...)
		}
		return all
	case reflect.Struct:
		var all []string
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				all = append(all, bare(v.Field(i))...)
			}
		}
		return all
	}
	return nil
}

func bareNode(node any) string {
	switch n := node.(type) {
	case *templ.Text:
		if text := strings.TrimSpace(n.Value); aWord.MatchString(text) && !slices.Contains(ofEveryLanguage, text) {
			return fmt.Sprintf("line %d: %q", n.Range.From.Line+1, text)
		}
	case *templ.ConstantAttribute:
		if slices.Contains(saidAttributes, n.Key.String()) && aWord.MatchString(n.Value) {
			return fmt.Sprintf("line %d: %s=%q", n.Range.From.Line+1, n.Key, n.Value)
		}
	case *templ.StringExpression:
		return bareExpression(n.Expression, aWord)
	case *templ.TemplElementExpression:
		return bareExpression(n.Expression, aSentence)
	}
	return ""
}

func bareExpression(e templ.Expression, wanted *regexp.Regexp) string {
	if saying.MatchString(e.Value) {
		return ""
	}
	for _, literal := range aLiteral.FindAllString(e.Value, -1) {
		if wanted.MatchString(literal) && !slices.ContainsFunc(ofEveryLanguage, func(word string) bool { return strings.Contains(literal, word) }) {
			return fmt.Sprintf("line %d: %s", e.Range.From.Line+1, literal)
		}
	}
	return ""
}
