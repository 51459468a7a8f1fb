package e2e_test

import (
	"context"
	_ "embed"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

//go:embed testdata/gates.js
var gates string

// axe finds what shuts people out of a page.
//
//go:embed testdata/axe.min.js
var axe string

// htmlValidate checks markup; see testdata/README.md.
//
//go:embed testdata/html-validate.min.js
var htmlValidate string

// lights in which every page stands.
var lights = []struct{ name, scheme, attribute string }{
	{"day", "light", ""}, {"dark", "dark", ""}, {"glare", "light", "glare"},
}

// gate is one page under measure.
type gate struct {
	t    *testing.T
	b    *tab
	path string
}

// tells calls a function of gates.js that puts the page into another state.
func (g gate) tells(call string) {
	g.t.Helper()
	g.b.brings("{" + finger + gates + call + "}")
}

// brings runs a script in the page.
func (b *tab) brings(script string) {
	b.t.Helper()
	b.must(chromedp.Do(b.ctx, chromedp.Evaluate[chromedp.Void](script)))
}

// carries gives the tab the session that somebody has already.
func (b *tab) carries(session *http.Cookie) {
	b.t.Helper()
	yes := true
	b.must(chromedp.Do(b.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, network.SetCookie, network.SetCookieParams{
			Name: session.Name, Value: session.Value, URL: b.base, Path: "/", HTTPOnly: &yes, Secure: &session.Secure,
		})
		return err
	})))
}

// checks calls a function of gates.js and reports what it finds.
func (g gate) checks(where, call string) {
	g.t.Helper()
	expression := "(async () => {" + finger + gates + "\nreturn " + call + "})()"
	found, err := chromedp.Run(g.b.ctx, chromedp.Evaluate[[]byte](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		g.t.Fatalf("%s %s: %s: %v", g.path, where, call, err)
	}
	var flaws []string
	if err := json.Unmarshal(found, &flaws); err != nil {
		g.t.Fatalf("%s: %v", call, err)
	}
	for _, flaw := range flaws {
		g.t.Errorf("%s %s: %s", g.path, where, flaw)
	}
}

func (b *tab) scheme(name string) {
	b.t.Helper()
	b.must(chromedp.Do(b.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{
				{Name: "prefers-color-scheme", Value: name},
				{Name: "prefers-reduced-motion", Value: "reduce"}, // or colours are read on their way
			},
		})
		return err
	})))
}

// markup is what html-validate is to leave alone.
const markup = `{"root": true, "extends": ["html-validate:recommended"], "rules": {
	"long-title": "off", "no-trailing-whitespace": "off", "void-style": "off", "doctype-style": "off", "no-implicit-button-type": "off",
	"valid-id": ["error", {"relaxed": true}],
	"form-dup-name": ["error", {"shared": ["radio", "checkbox", "button", "submit", "reset"]}]
}}`

// validator checks the text of pages, in a tab of its own.
func validator(t *testing.T) func(t *testing.T, path, page string) {
	t.Helper()
	ctx, cancel := chromedp.NewContext(openBrowser(t), chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx, chromedp.Evaluate[chromedp.Void](htmlValidate+"\nglobalThis.validate = htmlValidator("+markup+"); void 0")); err != nil {
		t.Fatal(err)
	}
	return func(t *testing.T, path, page string) {
		t.Helper()
		text, err := json.Marshal(page)
		if err != nil {
			t.Fatal(err)
		}
		type flaw struct {
			RuleID, Message, Selector string
			Line                      int
		}
		flaws, err := chromedp.Run(ctx, chromedp.Evaluate[[]flaw]("(async () => (await validate("+string(text)+")).results.flatMap((r) => r.messages))()", chromedp.EvalAwaitPromise))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range flaws {
			t.Errorf("%s: %s: %s at %s", path, f.RuleID, f.Message, f.Selector)
		}
	}
}

// noScreens answer no page that stands for itself.
var noScreens = []string{
	"/", // leads to the first place of whoever asks
	"/log/policy.txt", "/log/checkpoint", "/log/status", "/log/{epoch}/checkpoint", "/log/{epoch}/tile/*",
	"/sign-in/provider", "/sign-in/provider/callback", "/account/provider/begin", "/account/provider", "/account/provider/unlink", // only with a provider
	"/unlock",    // only of a screen that is locked
	"/hall/open", // leads to /hall, once
	"/board/events", "/hall/events", "/runs/{run}/events",
	"/runs/{run}/photos/{sha256}.jpg", "/runs/{run}/logbook.json", "/runs/{run}/logbook.csv", "/recall.csv", "/trail.csv", "/trail.json",
	"/trail/{line}/proof", "/set-aside/{key}.json", "/certificates/{number}.pdf", "/certificates.zip",
	"/trust", "/trust/settlemark-authority.crt", "/trust/settlemark-authority.pem", // only with an authority of the site's own
}

// TestEveryPage reads the route table: a page without a row in screens passes
// no gate.
func TestEveryPage(t *testing.T) {
	table, err := os.ReadFile("../web/routes.go")
	if err != nil {
		t.Fatal(err)
	}
	patterns := map[string]string{}
	files, err := filepath.Glob("../internal/urls/*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`(\w+Pattern) *= "([^"]+)"`).FindAllStringSubmatch(string(text), -1) {
			patterns[m[1]] = m[2]
		}
	}
	pages := regexp.MustCompile(`method: get, pattern: urls\.(\w+)`).FindAllStringSubmatch(string(table), -1)
	if len(pages) < 40 {
		t.Fatalf("only %d pages found in the route table", len(pages))
	}
	all := screens(t, demoApp(t))
	for _, m := range pages {
		pattern := patterns[m[1]]
		like := regexp.MustCompile("^" + regexp.MustCompile(`\\\{\w+\\\}`).ReplaceAllString(regexp.QuoteMeta(pattern), "[^/?]+") + `(\?|$)`)
		shown := slices.ContainsFunc(all, func(s screen) bool { return like.MatchString(s.path) })
		if shown == slices.Contains(noScreens, pattern) {
			t.Errorf("%s (%s) has to stand in screens or in noScreens; in screens: %v", pattern, m[1], shown)
		}
	}
}
