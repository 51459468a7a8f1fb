package e2e_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/chromedp/chromedp"
	"github.com/google/uuid"

	"settlemark/internal/trial"
)

// pictures of each screen and each page of a certificate, for people to look at.
const out = "out"

type viewport struct{ width, height int64 }

var (
	sizes  = []viewport{{1180, 820}, {820, 1180}, {390, 844}}
	zoomed = []viewport{{590, 410}, {320, 640}} // the tablet at 200 %, and the narrowest
)

// field screens are used with gloves on.
const (
	deskTarget  = 44
	fieldTarget = 48
)

// screen is one page as somebody sees it.
type screen struct {
	name, login, path string
	least             int // px, what the smallest target may be
}

// screens of the demo. Nobody signs in where login is "".
func screens(t *testing.T, a *app) []screen {
	t.Helper()
	v := visitAs(t, a, "keiko")
	run := func(unit string) string { return v.link("/units/"+unit, "a[href^='/runs/']") }
	hold, step, returned, submitted := run("BH-06"), run("BH-08"), run("BH-04"), run("BH-02")
	released := v.link("/units/BH-01", "a[href^='/runs/']")
	valid := v.link("/certificates?status=valid", "a[href^='/certificates/C']")
	withdrawn := v.link("/certificates?status=withdrawn", "a[href^='/certificates/C']")
	superseded := v.link("/certificates?status=superseded", "a[href^='/certificates/C']")
	person := visitAs(t, a, "luca").link("/people", "a[href^='/people/']")
	lot := "/recall?fluid=K-20M&lot=" + strings.TrimSpace(strings.Split(v.reads(valid).document().Find("dd.mono").First().Text(), ",")[0])
	draft := visitAs(t, a, "marit").send("/drafts", url.Values{"from": {"return-to-service/1"}}).header.Get("Location")
	const desk, field = deskTarget, fieldTarget
	return []screen{
		{"sign-in", "", "/sign-in", desk},
		{"setup", "", "/setup", desk},
		{"invite", "", "/invite", desk},
		{"verify", "", "/verify", desk},
		{"offline", "", "/offline", field},

		{"people", "luca", "/people", desk},
		{"person", "luca", person, desk},
		{"person-invite", "luca", person + "/invite", desk},
		{"person-disable", "luca", person + "/disable", desk},
		{"person-same", "luca", person + "/same", desk},
		{"sites", "luca", "/sites", desk},
		{"site-change", "luca", "/sites?change=1", desk},
		{"lines", "luca", "/lines", desk},
		{"benches", "luca", "/benches", desk},
		{"fluids", "luca", "/fluids", desk},
		{"units", "luca", "/units", desk},
		{"unit-change", "luca", "/units/BH-03?change=yes", desk},
		{"account", "luca", "/account", desk},
		{"tell", "luca", "/account/tell", desk},
		{"tell-of-one-run", "marit", strings.Replace(step, "/runs/", "/account/tell?run=", 1), desk},
		{"second-factors", "luca", "/account/second-factors", desk},
		{"authenticator-app", "luca", "/account/second-factors/app", desk},
		{"add-passkey", "luca", "/account/second-factors/passkey", desk},
		{"remove-factor", "luca", "/account/second-factors/remove?what=app", desk},
		{"recovery-codes", "luca", "/account/recovery-codes", desk},
		{"password", "luca", "/account/password", desk},
		{"set-aside", "keiko", "/set-aside", desk},
		{"trail", "luca", "/trail", desk},
		{"instruments", "luca", "/instruments", desk},
		{"hall-screens", "luca", "/screens", desk},
		{"hall", hallLogin, "/hall", desk},
		{"gateways", "luca", "/gateways", desk},
		{"gateway", "luca", visitAs(t, a, "luca").link("/gateways", "main a[href^='/gateways/']"), desk},

		{"runs", "marit", "/runs", desk},
		{"run-start", "marit", "/runs/new", desk},
		{"unit-to-renew", "marit", "/units/BH-12", desk},
		{"unit-event", "marit", "/units/BH-03/events", desk},
		{"unit-event-none-stands", "marit", "/units/BH-09/events", desk},
		{"run-hold", "marit", hold, field},
		{"run-step", "marit", step, field},
		{"run-section-open-later", "marit", step + "?section=7", field},
		{"run-returned", "marit", returned, field},
		{"run-submitted", "marit", submitted, field},
		{"run-logbook", "marit", hold + "/logbook", field},
		{"reading", "marit", hold + "/reading?quantity=viscosity", field},
		{"reading-state", "marit", hold + "/reading?quantity=ready", field},
		{"fault", "marit", hold + "/fault", field},
		{"more", "marit", hold + "/more", field},
		{"import", "marit", hold + "/import", field},
		{"pen", "marit", hold + "/pen", field},
		{"correction", "marit", hold + "/entries/1/correction", field},
		{"cup", "marit", hold + "/cup", field},
		{"estimates", "marit", hold + "/estimates", field},
		{"submit-not-yet", "marit", hold + "/submit", field},
		{"abandon", "marit", hold + "/abandon", field},
		{"draft", "marit", draft, desk},
		{"draft-text", "marit", draft + "/yaml", desk},
		{"draft-part", "marit", draft + "/part?at=gates.hold", desk},
		{"draft-preview", "marit", draft + "/preview", desk},
		{"draft-submit", "marit", draft + "/submit", desk},
		{"proposals", "marit", "/proposals", desk},
		{"review-own", "marit", submitted + "/review", desk},

		{"run-holding", "yusuf", run("BH-10"), field},
		{"board", "anwen", "/board", desk},
		{"run-watched", "anwen", hold, field},
		{"review-open", "anwen", hold + "/review", desk},
		{"review", "anwen", submitted + "/review", desk},
		{"review-released", "anwen", released + "/review", desk},

		{"units-read", "keiko", "/units", desk},
		{"tags", "keiko", "/tags", desk},
		{"tags-lot", "keiko", "/tags?fluid=K-20&lot=K20-2604&expires=2027-03-31&count=2", desk},
		{"unit", "keiko", "/units/BH-03", desk},
		{"unit-nothing-stands", "keiko", "/units/BH-09", desk},
		{"recall-empty", "keiko", "/recall", desk},
		{"recall-none", "keiko", "/recall?fluid=K-20&lot=none", desk},
		{"recall", "keiko", lot, desk},
		{"procedures", "keiko", "/procedures", desk},
		{"procedure-history", "keiko", "/procedures/return-to-service", desk},
		{"procedure-compare", "keiko", "/procedures/return-to-service/compare?from=1&to=1", desk},
		{"procedure-retire", "keiko", "/procedures/return-to-service/retire", desk},
		{"procedure-reject", "keiko", "/procedures/return-to-service/1/reject", desk},
		{"clauses", "keiko", "/clauses", desk},
		{"procedure", "keiko", v.link("/procedures", "a[href^='/procedures/']"), desk},
		{"certificates", "keiko", "/certificates", desk},
		{"certificates-none", "keiko", "/certificates?unit=none", desk},
		{"certificate", "keiko", valid, desk},
		{"certificate-withdrawn", "keiko", withdrawn, desk},
		{"certificate-superseded", "keiko", superseded, desk},
		{"certificate-withdraw", "keiko", valid + "/withdraw", desk},
	}
}

// hallLogin stands for a screen that hangs in a hall, where nobody signs in.
const hallLogin = "hall"

// hallCookie is what a screen has whose link was opened.
func hallCookie(t *testing.T, a *app) *http.Cookie {
	t.Helper()
	luca := visitAs(t, a, "luca")
	made := luca.send("/screens", url.Values{
		"name": {"Over line 1"}, "site": {"1"}, "days": {"30"}, "nonce": {uuid.NewString()},
		"password": {a.password}, "code": {a.code(t, "luca")},
	})
	link, err := url.Parse(made.document().Find(".code-once").Text())
	if err != nil || link.RawQuery == "" {
		t.Fatalf("no link: %d %s", made.status, made.body)
	}
	opened, err := http.ParseSetCookie(visit(t, a).get(link.RequestURI()).header.Get("Set-Cookie"))
	if err != nil {
		t.Fatal(err)
	}
	return opened
}

// link is the address of the first link that a page has for a selector.
func (v *visitor) link(page, selector string) string {
	v.t.Helper()
	var href string
	v.reads(page).document().Find(selector).EachWithBreak(func(_ int, e *goquery.Selection) bool {
		href = e.AttrOr("href", "")
		return strings.HasSuffix(href, "/new")
	})
	if href == "" || strings.HasSuffix(href, "/new") {
		v.t.Fatalf("%s has no link %s", page, selector)
	}
	return href
}

// TestScreens holds every screen against the gates. The browser's complaints
// (console, content policy, missing files) fail it too. In full it leaves a
// picture of each at each size, and meets each size with each light; else each
// light but the day meets one size of a page, since its colours are the same in all.
func TestScreens(t *testing.T) {
	a := demoApp(t)
	if err := os.MkdirAll(out, 0o755); err != nil {
		t.Fatal(err)
	}
	all := screens(t, a)
	valid := validator(t)
	for _, login := range []string{"", "luca", "marit", "yusuf", "anwen", "keiko", hallLogin} {
		t.Run("as "+login, func(t *testing.T) {
			t.Parallel()
			b, v := takeTablet(t, a, true), visit(t, a)
			switch login {
			case "":
			case hallLogin:
				v.cookie = hallCookie(t, a)
				b.carries(v.cookie)
			default:
				v = visitAs(t, a, login)
				b.carries(v.cookie)
			}
			for n, s := range all {
				if s.login != login {
					continue
				}
				t.Run(s.name, func(t *testing.T) {
					valid(t, s.path, v.get(s.path).body)
					s.passes(t, b, n)
				})
			}
		})
	}
}

// passes opens the page once and walks it through sizes and lights; n says which
// size meets which light.
func (s screen) passes(t *testing.T, b *tab, n int) {
	t.Helper()
	b.size(sizes[0].width, sizes[0].height)
	b.open(s.path)
	b.ask("the page has its fonts", "ready")
	b.brings(axe)
	g := gate{t, b, s.path}
	for i, size := range sizes {
		b.size(size.width, size.height)
		where := fmt.Sprintf("at %d × %d", size.width, size.height)
		measure(t, b, where, s.least)
		if trial.Full {
			save(t, b, fmt.Sprintf("%s-%d.png", s.name, size.width))
		}
		for j, l := range lights {
			if day := j == 0; day || trial.Full || (n+i+j)%len(sizes) == 0 {
				b.scheme(l.scheme)
				g.tells(fmt.Sprintf("light(%q)", l.attribute))
				g.checks(where+" by "+l.name, fmt.Sprintf("broken(%v)", !day))
			}
		}
		g.tells(`light("")`)
		g.tells("spread(true)")
		g.checks(where+" with wide text", "clipped()")
		g.checks(where+" with wide text", "sideways()")
		g.tells("spread(false)")
	}
	for _, size := range zoomed {
		b.size(size.width, size.height)
		measure(t, b, fmt.Sprintf("%d px wide", size.width), s.least)
	}
}

func measure(t *testing.T, b *tab, size string, least int) {
	t.Helper()
	answer, err := b.tries(patience, "flaws", least)
	if err != nil {
		t.Fatal(err)
	}
	var flaws []string
	if err := json.Unmarshal(answer, &flaws); err != nil {
		t.Fatal(err)
	}
	for _, flaw := range flaws {
		t.Errorf("%s %s: %s", b.path(), size, flaw)
	}
}

func save(t *testing.T, b *tab, name string) {
	t.Helper()
	picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(filepath.Join(out, name), picture, 0o600)
	}
	if err != nil {
		t.Error(err)
	}
}

// TestCertificatePages checks the file of each certificate, and in full leaves a
// picture of each page.
func TestCertificatePages(t *testing.T) {
	a := demoApp(t)
	v := visitAs(t, a, "keiko")
	seen := map[string]bool{}
	v.reads("/certificates").document().Find("a[href^='/certificates/C']").Each(func(_ int, e *goquery.Selection) {
		number := strings.TrimPrefix(e.AttrOr("href", ""), "/certificates/")
		if seen[number] {
			return
		}
		seen[number] = true
		file := filepath.Join(t.TempDir(), number+".pdf")
		if err := os.WriteFile(file, []byte(v.reads("/certificates/"+number+".pdf").body), 0o600); err != nil {
			t.Fatal(err)
		}
		run(t, tool(t, "qpdf", "qpdf"), "--check", file)
		if trial.Full {
			run(t, tool(t, "pdftoppm", "poppler-utils"), "-r", "110", "-png", file, filepath.Join(out, number))
		}
	})
	if len(seen) < 5 {
		t.Errorf("only %d certificates in the demo", len(seen))
	}
}
