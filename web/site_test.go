package web_test

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/google/uuid"

	"settlemark/db/dbtest"
	"settlemark/handlers"
	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/internal/auth/authtest"
	"settlemark/internal/commissioning"
	"settlemark/web"
	"settlemark/web/live"
	"settlemark/web/respond"
	"settlemark/web/session"
)

const password = "four quiet brown jars"

// site is the whole app over a database of its own, with one site and one
// person per role.
type site struct {
	t       testing.TB
	db      *dbtest.Database
	acts    *act.Acts
	screens *handlers.Screens
	server  *httptest.Server
	admin   commissioning.Person
	works   commissioning.Site
	people  map[string]commissioning.Person // by login
	log     *strings.Builder
	signed  map[string]*browser // of the demo, by login
	secrets secrets             // that must not be in the log

	adminProof func() act.Signing // of who adds people
}

func newSite(t testing.TB, proxies ...netip.Prefix) *site {
	t.Helper()
	s := &site{t: t, db: dbtest.New(t), people: map[string]commissioning.Person{}, log: &strings.Builder{}}
	log := slog.New(slog.NewJSONHandler(&locked{w: s.log}, nil))
	before := slog.Default()
	slog.SetDefault(log) // as the program does
	t.Cleanup(func() { slog.SetDefault(before) })
	s.adminProof = s.proof
	s.acts = act.New(s.db.DB, log, authtest.Secrets())
	s.screens = &handlers.Screens{DB: s.db.DB, Acts: s.acts, Sessions: session.New(s.db.DB, respond.Error), Now: time.Now, Log: log, Demo: true}
	s.screens.Live = live.New(live.Renderers{Run: s.screens.RunPieces, Board: s.screens.BoardPieces, Hall: s.screens.HallPieces}, time.Now, log)
	s.server = httptest.NewTLSServer(web.Handler(s.screens, web.Config{Proxies: proxies}))
	t.Cleanup(func() { s.secrets.unlogged(t, s.log.String()) })
	t.Cleanup(s.server.Close)
	t.Cleanup(s.screens.Live.Close)
	s.settle()
	return s
}

// settle makes the people and one of each register.
func (s *site) settle() {
	s.t.Helper()
	ctx, now := s.t.Context(), time.Now()
	code, _, err := s.acts.SetupCode(ctx, now)
	s.must(err)
	s.admin, err = s.acts.Setup(ctx, code, "Ada Min", "administrator", password, now)
	s.must(err)
	s.people["administrator"] = s.admin
	s.enrol(s.admin)
	s.works, err = s.acts.SaveSite(ctx, s.admin, commissioning.Site{Name: "Quince Works", Address: "1 Lane", TimeZone: "Europe/Dublin", Paper: "A4"}, now)
	s.must(err)
	s.add("engineer", commissioning.Grant{Role: commissioning.Engineer, Site: s.works.ID})
	s.add("supervisor", commissioning.Grant{Role: commissioning.Supervisor, Site: s.works.ID})
	s.add("quality", commissioning.Grant{Role: commissioning.Quality})
	for _, f := range []commissioning.Fluid{{Code: "K-20", Name: "Black", Position: commissioning.Ink, Base: "ketone"}, {Code: "K-20M", Name: "Make-up", Position: commissioning.MakeUp, Base: "ketone"}} {
		_, err = s.acts.SaveFluid(ctx, s.admin, f, now)
		s.must(err)
	}
	line, err := s.acts.SaveLine(ctx, s.admin, commissioning.Line{Site: s.works.ID, Name: "Line 1"}, now)
	s.must(err)
	_, err = s.acts.SaveBench(ctx, s.admin, commissioning.Bench{Site: s.works.ID, Name: "Bench 1"}, now)
	s.must(err)
	_, err = s.acts.SaveUnit(ctx, s.admin, commissioning.Unit{Tag: "QU-01", Site: s.works.ID, LineID: line.ID, Serial: "7", Ink: "K-20", Makeup: "K-20M"}, now)
	s.must(err)
	_, err = s.acts.SaveLogger(ctx, s.admin, commissioning.Logger{Name: "Gateway 1", Site: s.works.ID, Units: []string{"QU-01"}}, now)
	s.must(err)
	shipped, err := commissioning.ShippedProcedures()
	s.must(err)
	_, err = s.acts.AddProcedure(ctx, nil, shipped[0], false, now)
	s.must(err)
}

func (s *site) add(login string, grants ...commissioning.Grant) commissioning.Person {
	s.t.Helper()
	p, code, err := s.acts.AddPerson(s.t.Context(), s.admin, act.NewPerson{Name: "The " + login, Login: login, Grants: grants}, s.adminProof(), time.Now())
	s.must(err)
	_, err = s.acts.UseInvite(s.t.Context(), act.Acceptance{Invite: code, Password: password}, time.Now())
	s.must(err)
	s.people[login] = p
	s.enrol(p)
	return p
}

// seed is of everybody's authenticator app.
var seed = []byte("the seed of the apps")

// enrol sets up the authenticator app of a person.
func (s *site) enrol(p commissioning.Person) {
	s.t.Helper()
	_, err := s.acts.OfferApp(s.t.Context(), p, seed)
	s.must(err)
	_, err = s.acts.AddApp(s.t.Context(), p, act.Signing{Proof: act.Proof{Password: password}}, auth.CodeAt(seed, auth.Step(time.Now())), time.Now())
	s.must(err)
}

// proof is anybody's, by the clock of the machine.
func (s *site) proof() act.Signing {
	s.code()
	return act.Signing{Proof: act.Proof{Password: password, Code: auth.CodeAt(seed, auth.Step(time.Now()))}, Nonce: uuid.NewString()}
}

// proven are the fields of a form with the signer's proof.
func (s *site) proven(own ...string) []string {
	return append(own, "nonce", uuid.NewString(), "password", password, "code", s.code())
}

// code is what everybody's app shows. Tests sign more often than codes change,
// so those before are forgotten.
func (s *site) code() string { return s.codeOf(seed) }

func (s *site) codeOf(seed []byte) string {
	s.t.Helper()
	s.change("update settlemark.code_seeds set last_step = 0")
	return auth.CodeAt(seed, auth.Step(s.screens.Now()))
}

func (s *site) must(err error) {
	s.t.Helper()
	if err != nil {
		s.t.Fatal(err)
	}
}

// browser is one client with cookies; it follows no redirect by itself.
type browser struct {
	t    testing.TB
	http *http.Client
	base string
}

func (s *site) browser() *browser {
	jar, err := cookiejar.New(nil)
	s.must(err)
	client := *s.server.Client()
	client.Jar, client.Transport = jar, s.secrets.overhear(client.Transport)
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &browser{t: s.t, http: &client, base: s.server.URL}
}

// as gives a browser in which the person is signed in.
func (s *site) as(login string) *browser {
	s.t.Helper()
	b := s.browser()
	if login == "nobody" {
		return b
	}
	if a := b.post("/sign-in", "login", login, "password", password, "code", s.code(), "then", "/account"); a.status != http.StatusSeeOther {
		s.t.Fatalf("%s can't sign in: %d %s", login, a.status, a.text())
	}
	return b
}

type answer struct {
	t      testing.TB
	status int
	header http.Header
	body   string
}

func (b *browser) get(path string) answer { return b.do(http.MethodGet, path, nil) }

func (b *browser) post(path string, pairs ...string) answer {
	form := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Add(pairs[i], pairs[i+1])
	}
	return b.do(http.MethodPost, path, form)
}

func (b *browser) do(method, path string, form url.Values, headers ...string) answer {
	b.t.Helper()
	return b.request(method, path, form.Encode(), headers...)
}

func (b *browser) request(method, path, body string, headers ...string) answer {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.t.Context(), 20*time.Second)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, method, b.base+path, strings.NewReader(body))
	if err != nil {
		b.t.Fatal(err)
	}
	if method == http.MethodPost {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		if headers[i] == "Host" {
			r.Host = headers[i+1]
			continue
		}
		r.Header.Set(headers[i], headers[i+1])
	}
	response, err := b.http.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	return answer{b.t, response.StatusCode, response.Header, string(text)}
}

func (a answer) page() *goquery.Document {
	a.t.Helper()
	doc, err := goquery.NewDocumentFromReader(strings.NewReader(a.body))
	if err != nil {
		a.t.Fatal(err)
	}
	return doc
}

// text is what a person reads in the page's main part.
func (a answer) text() string {
	return strings.Join(strings.Fields(a.page().Find("main").Text()), " ")
}

func (a answer) wants(status int, words ...string) answer {
	a.t.Helper()
	if a.status != status {
		a.t.Errorf("status %d, wants %d: %s", a.status, status, a.text())
	}
	for _, w := range words {
		if !strings.Contains(a.text(), w) {
			a.t.Errorf("the page does not say %q: %s", w, a.text())
		}
	}
	return a
}

func (a answer) leadsTo(address string) answer {
	a.t.Helper()
	if a.status != http.StatusSeeOther || a.header.Get("Location") != address {
		a.t.Errorf("%d to %q, wants 303 to %q: %s", a.status, a.header.Get("Location"), address, a.text())
	}
	return a
}
