package settlemark_test

import (
	"fmt"
	"go/ast"
	"go/constant"
	"go/types"
	"regexp"
	"slices"
	"strings"
	"testing"

	load "golang.org/x/tools/go/packages"

	"settlemark/internal/words"
)

// said is one format that the code says, with where.
type said struct {
	one, other string
	at         string
}

// sayers are the functions that take a format, each with the number of that
// parameter. A function that hands its own parameter on to one of them is one
// of them too, and is found by the test.
var sayers = map[string][]int{
	module + "internal/words.Say":  {0},
	module + "internal/words.Many": {1, 2},
}

// atTerminal says things to whoever runs the program or sends to its API, which
// are in English: their words are searched for, and stand in scripts.
var atTerminal = regexp.MustCompile(`cmd/settlemark/(backup|keys_folder|new_secrets|secrets|serve|serve_https|store)\.go|` +
	`internal/(backup|demo|intake|privatepg)/|db/rights\.go|internal/act/(log_epoch|log_rotate|secrets)\.go|handlers/api/`)

// Every text has a German one, each German one is used, and both take the same
// arguments.
func TestCatalogues(t *testing.T) {
	used := map[string]bool{}
	for _, s := range texts(t) {
		used[s.one] = true
		for _, l := range words.Others() {
			translated, ok := words.Translated(l)[s.one]
			if !ok && atTerminal.MatchString(s.at) {
				continue
			}
			if !ok {
				t.Errorf("%s: %q has no %s; put it into internal/words/%s", s.at, s.one, l.Name(), l)
				continue
			}
			if (s.other != "") != (len(translated) == 2) {
				t.Errorf("%s: %q is said by a count in one language only", s.at, s.one)
			}
			for _, text := range translated {
				if got, want := verbs(text), verbs(s.one); got != want {
					t.Errorf("%s: %q takes %s, in %s it takes %s", s.at, s.one, want, l.Name(), got)
				}
			}
		}
		if s.other != "" && verbs(s.other) != verbs(s.one) {
			t.Errorf("%s: %q and %q take different arguments", s.at, s.one, s.other)
		}
	}
	for _, l := range words.Others() {
		for id := range words.Translated(l) {
			if !used[id] {
				t.Errorf("nobody says %q any more; take it out of internal/words/%s", id, l)
			}
		}
	}
	if len(used) < 100 {
		t.Fatalf("only %d texts were found, so this shows nothing", len(used))
	}
}

var verb = regexp.MustCompile(`%(?:\[(\d)\])?([-+#0-9.]*)([a-zA-Z%])`)

// verbs lists the verbs of a format in the order of their arguments.
func verbs(format string) string {
	var all []string
	next := 1
	for _, v := range verb.FindAllStringSubmatch(format, -1) {
		if v[3] == "%" {
			continue
		}
		if v[1] != "" {
			next = int(v[1][0] - '0')
		}
		all = append(all, fmt.Sprintf("%d%s%s", next, v[2], v[3]))
		next++
	}
	slices.Sort(all)
	return strings.Join(all, " ")
}

// texts finds every format that the code says, in our packages without tests.
func texts(t *testing.T) []said {
	t.Helper()
	config := &load.Config{Mode: load.NeedName | load.NeedFiles | load.NeedSyntax | load.NeedTypes | load.NeedTypesInfo | load.NeedImports}
	all, err := load.Load(config, "./...")
	if err != nil {
		t.Fatal(err)
	}
	f := finder{t: t, sayers: map[string][]int{}}
	for name, at := range sayers {
		f.sayers[name] = at
	}
	for more := true; more; { // until no further function turns out to be one
		before := len(f.sayers)
		f.found, f.loose = nil, nil
		for _, p := range all {
			if len(p.Errors) > 0 {
				t.Fatalf("%s: %v", p.PkgPath, p.Errors)
			}
			f.search(p)
		}
		more = len(f.sayers) > before
	}
	for _, at := range f.loose {
		if atTerminal.MatchString(at) {
			continue
		}
		t.Errorf("%s: the format is no literal, so no catalogue can have it", at)
	}
	return f.found
}

type finder struct {
	t      *testing.T
	sayers map[string][]int
	found  []said
	loose  []string
}

func (f *finder) search(p *load.Package) {
	for _, file := range p.Syntax {
		var within []ast.Node
		ast.Inspect(file, func(n ast.Node) bool {
			if n == nil {
				within = within[:len(within)-1]
				return true
			}
			within = append(within, n)
			if call, ok := n.(*ast.CallExpr); ok {
				f.call(p, call, within)
			}
			return true
		})
	}
}

func (f *finder) call(p *load.Package, call *ast.CallExpr, within []ast.Node) {
	formats, known := f.sayers[name(p, call.Fun)]
	if !known {
		return
	}
	at := p.Fset.Position(call.Pos()).String()
	s := said{at: at}
	for i, n := range formats {
		if n >= len(call.Args) {
			return
		}
		arg := ast.Unparen(call.Args[n])
		if value := p.TypesInfo.Types[arg].Value; value != nil && value.Kind() == constant.String {
			text := constant.StringVal(value)
			switch {
			case i == 0:
				s.one = text
			case len(formats) == 2 && f.counts(name(p, call.Fun)):
				s.other = text
			case text != "":
				f.found = append(f.found, said{one: text, at: at})
			}
			continue
		}
		if !f.handsOn(p, arg, within) {
			f.loose = append(f.loose, at)
		}
	}
	if s.one != "" {
		f.found = append(f.found, s)
	}
}

// counts says whether the formats of a function are one and other.
func (f *finder) counts(name string) bool {
	return strings.HasSuffix(name, "words.Many") || strings.HasSuffix(name, "parts.Tn") || strings.HasSuffix(name, ").many")
}

// handsOn says whether the argument is a parameter of the function around it,
// which then takes a format itself.
func (f *finder) handsOn(p *load.Package, arg ast.Expr, within []ast.Node) bool {
	id, ok := arg.(*ast.Ident)
	if !ok {
		return false
	}
	object := p.TypesInfo.ObjectOf(id)
	for i := len(within) - 1; i >= 0; i-- {
		var owner string
		var params *ast.FieldList
		switch fn := within[i].(type) {
		case *ast.FuncDecl:
			owner, params = name(p, fn.Name), fn.Type.Params
		case *ast.FuncLit:
			params = fn.Type.Params
			if assign, ok := within[i-1].(*ast.AssignStmt); ok {
				owner = name(p, assign.Lhs[0])
			}
		default:
			continue
		}
		n := 0
		for _, field := range params.List {
			for _, param := range field.Names {
				if p.TypesInfo.ObjectOf(param) == object && owner != "" {
					if !slices.Contains(f.sayers[owner], n) {
						f.sayers[owner] = append(f.sayers[owner], n)
						slices.Sort(f.sayers[owner])
					}
					return true
				}
				n++
			}
		}
	}
	return false
}

// name tells a function, or a variable that holds one, from all others.
func name(p *load.Package, fun ast.Expr) string {
	switch e := ast.Unparen(fun).(type) {
	case *ast.SelectorExpr:
		fun = e.Sel
	case *ast.IndexExpr:
		return name(p, e.X)
	}
	id, ok := fun.(*ast.Ident)
	if !ok {
		return ""
	}
	switch object := p.TypesInfo.ObjectOf(id).(type) {
	case *types.Func:
		return object.FullName()
	case *types.Var:
		return p.Fset.Position(object.Pos()).String()
	}
	return ""
}
