package settlemark_test

import (
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const module = "settlemark/"

// arrows says which of our packages a package may import; a package without a
// row fails. Tests may import what they like, except those of e2e.
var arrows = map[string][]string{
	"internal/measure":       {},
	"internal/problem":       {"internal/words"},
	"internal/words":         {},
	"static":                 {},
	"internal/commissioning": {"internal/measure", "internal/problem", "internal/words"},
	"internal/urls":          {"internal/commissioning"},
	"internal/rules":         {"internal/commissioning", "internal/measure", "internal/words"},
	"internal/ledger":        {"internal/commissioning", "internal/problem"},
	"internal/auth":          {"internal/commissioning", "internal/problem", "internal/words"},
	"internal/auth/authtest": {"internal/auth", "internal/commissioning"},
	"internal/chart":         {"internal/commissioning", "internal/measure", "internal/rules", "internal/words"},
	"internal/certificate":   {"internal/commissioning", "internal/rules", "internal/ledger", "internal/chart", "internal/measure", "internal/words"},
	"internal/drafting":      {"internal/problem"},
	"internal/privatepg":     {"internal/problem", "internal/words"},
	"db":                     {"internal/commissioning", "internal/ledger", "internal/problem", "internal/words"}, // ledger: proofs over the stored hashes
	"db/dbtest":              {"db", "internal/fsck", "internal/privatepg"},
	"internal/durable":       {},
	"internal/trial":         {}, // for tests only
	"internal/provider":      {"internal/commissioning", "internal/problem", "internal/words"},
	"internal/trust":         {"internal/durable"},
	"internal/witness":       {"internal/durable", "internal/ledger"},
	"internal/feed":          {"internal/durable"},
	"internal/fsck":          {"db", "internal/commissioning", "internal/rules", "internal/ledger", "internal/problem"},
	"internal/backup":        {"db", "internal/privatepg", "internal/fsck", "internal/certificate", "internal/ledger", "internal/problem", "internal/words"},
	"internal/act":           {"db", "internal/durable", "internal/commissioning", "internal/rules", "internal/ledger", "internal/certificate", "internal/auth", "internal/problem", "internal/words", "internal/drafting", "internal/mail", "internal/stamp"},
	"internal/tabular":       {"internal/measure", "internal/problem", "internal/words"},
	"internal/intake":        {"internal/commissioning", "internal/problem"},
	"internal/webhook":       {"internal/commissioning"},
	"internal/metrics":       {},
	"internal/mqtt":          {"db", "internal/act", "internal/intake", "internal/commissioning", "internal/problem"},
	"internal/doctor":        {"db", "internal/act", "internal/durable", "internal/problem"},
	"internal/mail":          {},
	"internal/jobs":          {"db", "internal/urls", "internal/mail", "internal/webhook", "internal/words", "internal/act", "internal/ledger", "internal/witness", "internal/commissioning", "internal/problem"},
	"internal/demo":          {"internal/act", "internal/auth", "db", "internal/commissioning", "internal/measure", "internal/problem"},
	"templates/parts":        {"internal/problem", "internal/commissioning", "internal/rules", "internal/chart", "internal/measure", "internal/urls", "internal/words", "static"},
	"templates":              {"internal/tabular", "templates/parts", "internal/problem", "internal/drafting", "internal/commissioning", "internal/rules", "internal/chart", "internal/measure", "internal/urls", "internal/words", "static"},
	"web/session":            {"db", "internal/commissioning", "internal/problem"},
	"web/live":               {"internal/commissioning", "internal/problem", "internal/words"},
	"web/respond":            {"internal/problem", "internal/words", "templates", "internal/urls"},
	"handlers":               append(slices.Clone(screens), "internal/intake", "internal/tabular"),
	"handlers/api":           append(slices.Clone(screens), "internal/intake"),
	"web":                    {"db", "handlers", "handlers/api", "internal/commissioning", "internal/metrics", "internal/words", "web/session", "web/live", "web/respond", "internal/urls", "static"}, // db: which reads may lag
	"e2e":                    {"internal/trial"},
	"internal/stamp":         {},

	"internal/stamp/stamptest":       {}, // for tests only
	"internal/provider/providertest": {}, // for tests only
	"internal/mail/mailtest":         {"internal/mail"},
}

var screens = []string{
	// measure: what a person typed is read as an exact decimal before anything else happens to it
	"internal/act", "db", "internal/auth", "internal/commissioning", "internal/measure", "internal/rules", "templates", "templates/parts",
	"internal/urls", "internal/problem", "internal/words", "internal/drafting", "internal/trust", "internal/provider", "internal/durable", "web/session", "web/live", "web/respond",
}

// pure rooms reach none of banned, through whomever.
var (
	pure   = []string{"internal/measure", "internal/problem", "internal/words", "internal/commissioning", "internal/rules", "internal/ledger", "internal/chart", "internal/drafting"}
	banned = []string{"net", "database/sql", "github.com/go-chi/chi/v5", "github.com/a-h/templ", "github.com/jackc/pgx/v5"}
)

type listed struct {
	ImportPath                               string
	Imports, Deps, TestImports, XTestImports []string
}

// name is the import path within our module, "" for the root.
func (p listed) name() string { return strings.TrimPrefix(p.ImportPath+"/", module) }

func packages(t *testing.T) []listed {
	t.Helper()
	list := exec.Command("go", "list", "-e", "-json=ImportPath,Imports,Deps,TestImports,XTestImports", "./...")
	out, err := list.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []listed
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	if len(all) < 5 {
		t.Fatalf("go list shows %d packages, so this shows nothing", len(all))
	}
	return all
}

func TestArrows(t *testing.T) {
	for _, p := range packages(t) {
		name := strings.TrimSuffix(p.name(), "/")
		if name == "" || strings.HasPrefix(name, "cmd/") {
			continue // cmd wires everything; the root holds this test
		}
		allowed, known := arrows[name]
		if !known {
			t.Errorf("%s has no row here: say what it may import", name)
			continue
		}
		imports := p.Imports
		if name == "e2e" {
			imports = slices.Concat(p.Imports, p.TestImports, p.XTestImports)
		}
		for _, path := range imports {
			if to, ours := strings.CutPrefix(path, module); ours && !slices.Contains(allowed, to) {
				t.Errorf("%s may not import %s", name, to)
			}
		}
		if !slices.Contains(pure, name) {
			continue
		}
		for _, path := range banned {
			if slices.Contains(p.Deps, path) {
				t.Errorf("%s is pure and may not reach %s", name, path)
			}
		}
	}
}

// Evidence is written in a transaction, and only acts open one.
func TestTransactions(t *testing.T) {
	err := filepath.WalkDir(".", func(path string, entry fs.DirEntry, err error) error {
		room := filepath.ToSlash(filepath.Dir(path))
		if err != nil || entry.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") ||
			room == "internal/act" || room == "db" {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			if call, ok := n.(*ast.SelectorExpr); ok && call.Sel.Name == "InTx" {
				t.Errorf("%s opens a transaction with InTx; only internal/act may", path)
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
