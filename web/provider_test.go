package web_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/go-jose/go-jose/v4"
	"github.com/zitadel/oidc/v3/example/server/exampleop"
	"github.com/zitadel/oidc/v3/example/server/storage"

	"settlemark/internal/provider"
	"settlemark/internal/provider/providertest"
)

const callback = "/sign-in/provider/callback"

// maintained runs a provider that others keep, with one client and its users.
func (s *site) maintained() string {
	s.t.Helper()
	server := httptest.NewUnstartedServer(nil)
	issuer := "http://" + server.Listener.Addr().String()
	storage.RegisterClients(storage.WebClient("settlemark", "a secret", s.server.URL+callback))
	server.Config.Handler = exampleop.SetupServer(issuer, storage.NewStorage(storage.NewUserStore(issuer)), nil, false)
	server.Start()
	s.t.Cleanup(server.Close)
	s.screens.Provider = provider.New(provider.Config{
		Issuer: issuer, ClientID: "settlemark", ClientSecret: "a secret", Label: "the works", Callback: s.server.URL + callback,
	}, nil)
	return issuer
}

// atProvider follows the browser from a page of ours to the provider, signs in
// there where it is asked to, and gives the address that it is led back to.
func (b *browser) atProvider(begin, user string) string {
	b.t.Helper()
	address := b.get(begin).header.Get("Location")
	for range 10 {
		if back, ours := strings.CutPrefix(address, b.base); ours {
			return back
		}
		u, err := url.Parse(address)
		if err != nil || u.Host == "" {
			b.t.Fatalf("%s leads to %q", begin, address)
		}
		there := &browser{t: b.t, http: b.http, base: u.Scheme + "://" + u.Host}
		a := there.get(u.RequestURI())
		if form := a.page().Find("form"); form.Length() > 0 {
			id, _ := form.Find("input[name=id]").Attr("value")
			a = there.post(u.Path, "id", id, "username", user, "password", "verysecure")
		}
		if address = a.header.Get("Location"); strings.HasPrefix(address, "/") {
			address = there.base + address
		}
	}
	b.t.Fatalf("%s never leads back", begin)
	return ""
}

// links links an account at the provider to the person of the browser.
func (s *site) links(b *browser, user string) {
	s.t.Helper()
	b.get(b.atProvider("/account/provider/begin", user)).leadsTo("/account/provider")
	page := b.get("/account/provider").wants(http.StatusOK, "Link this account").page()
	b.post("/account/provider", append(hidden(page, "issuer", "subject", "nonce"), "password", password, "code", s.code())...).leadsTo("/account")
}

func TestProvider(t *testing.T) {
	s := newSite(t)
	issuer := s.maintained()
	t.Run("the sign-in page leads there", func(t *testing.T) {
		link, _ := s.browser().get("/sign-in?then=/units").page().Find("a:contains('Sign in with the works')").Attr("href")
		if link != "/sign-in/provider?then=%2Funits" {
			t.Errorf("got %q", link)
		}
	})
	t.Run("nobody is let in, added or found by name who has not linked the account", func(t *testing.T) {
		people := s.text("select count(*)::text from settlemark.persons")
		b := s.browser()
		b.get(b.atProvider("/sign-in/provider", "test-user2")).wants(http.StatusForbidden, "Nobody here has linked this account (test-user2)")
		b.get("/account").leadsTo("/sign-in?then=%2Faccount")
		if now := s.text("select count(*)::text from settlemark.persons"); now != people {
			t.Errorf("%s people, then %s", people, now)
		}
	})
	t.Run("an account is linked with a proof of identity, and not without", func(t *testing.T) {
		b := s.as("engineer")
		b.get("/account").wants(http.StatusOK, "Link your account at the works")
		b.get(b.atProvider("/account/provider/begin", "test-user2")).leadsTo("/account/provider")
		page := b.get("/account/provider").wants(http.StatusOK, "you are test-user2").page()
		fields := hidden(page, "issuer", "subject", "nonce")
		b.post("/account/provider", fields...).wants(http.StatusUnprocessableEntity, "Type your password")
		b.post("/account/provider", append(fields, "password", "not the password", "code", s.code())...).wants(http.StatusUnprocessableEntity, "Password or code is wrong")
		if n := s.text("select count(*)::text from settlemark.identities"); n != "0" {
			t.Fatalf("%s are linked without a proof", n)
		}
		b.post("/account/provider", append(fields, "password", password, "code", s.code())...).leadsTo("/account")
		b.get("/account").wants(http.StatusOK, "test-user2", issuer)
		act := s.text("select act || ': ' || detail from settlemark.acts order by id desc limit 1")
		if act != "identity linked: "+issuer+", subject id2" {
			t.Errorf("the acts say %q", act)
		}
	})
	t.Run("it signs its person in, back to the page asked for", func(t *testing.T) {
		b := s.browser()
		b.get(b.atProvider("/sign-in/provider?then=/units/QU-01", "test-user2")).leadsTo("/units/QU-01")
		b.get("/account").wants(http.StatusOK, "The engineer", "This one.")
	})
	t.Run("a session from there signs nothing without a proof of one's own", func(t *testing.T) {
		b := s.browser()
		b.get(b.atProvider("/sign-in/provider", "test-user2")).leadsTo("/")
		page := b.get("/account/provider/unlink?issuer="+url.QueryEscape(issuer)).wants(http.StatusOK, "Unlink").page()
		b.post("/account/provider/unlink", append(hidden(page, "issuer", "nonce"), "code", s.code())...).
			wants(http.StatusUnprocessableEntity, "Type your password")
	})
	t.Run("one account signs in one person, and a person has one there", func(t *testing.T) {
		for login, user := range map[string]string{"quality": "test-user2", "engineer": "test-user@127.0.0.1"} {
			b := s.as(login)
			b.get(b.atProvider("/account/provider/begin", user)).leadsTo("/account/provider")
			page := b.get("/account/provider").page()
			b.post("/account/provider", append(hidden(page, "issuer", "subject", "nonce"), "password", password, "code", s.code())...).
				wants(http.StatusConflict, "linked")
		}
	})
	t.Run("another person in the same browser does not find what one showed there", func(t *testing.T) {
		b := s.as("supervisor")
		b.get(b.atProvider("/account/provider/begin", "test-user@127.0.0.1")).leadsTo("/account/provider")
		b.post("/sign-in", "login", "quality", "password", password, "code", s.code(), "then", "/").leadsTo("/")
		b.get("/account/provider").leadsTo("/account")
	})
	t.Run("unlinked, it signs nobody in", func(t *testing.T) {
		b := s.as("engineer")
		page := b.get("/account/provider/unlink?issuer=" + url.QueryEscape(issuer)).page()
		b.post("/account/provider/unlink", append(hidden(page, "issuer", "nonce"), "password", password, "code", s.code())...).leadsTo("/account")
		if act := s.text("select act from settlemark.acts order by id desc limit 1"); act != "identity unlinked" {
			t.Errorf("the acts say %q", act)
		}
		b.get(b.atProvider("/sign-in/provider", "test-user2")).wants(http.StatusForbidden, "Nobody here has linked")
	})
	t.Run("whoever is disabled is refused", func(t *testing.T) {
		p := s.add("leaver")
		s.links(s.as("leaver"), "test-user2")
		s.must(s.acts.DisablePerson(t.Context(), s.admin, p.ID, s.proof(), time.Now()))
		b := s.browser()
		b.get(b.atProvider("/sign-in/provider", "test-user2")).wants(http.StatusForbidden, "Your access to Settlemark has ended")
		b.get("/account").leadsTo("/sign-in?then=%2Faccount")
	})
}

// Answers that a sound provider never gives: each is refused with a sentence,
// and nobody is signed in.
func TestHostileProvider(t *testing.T) {
	s := newSite(t)
	stub := providertest.New(t, "settlemark", time.Now)
	s.screens.Provider = provider.New(provider.Config{
		Issuer: stub.URL, ClientID: "settlemark", Label: "the works", Callback: s.server.URL + callback,
	}, nil)
	s.links(s.as("engineer"), "")
	refused := func(t *testing.T, b *browser, a answer, sentence string) {
		t.Helper()
		s.change("delete from settlemark.throttles") // else the twentieth is refused for another reason
		if a.status < 400 {
			t.Errorf("status %d", a.status)
		}
		if !strings.Contains(a.text(), sentence) {
			t.Errorf("the page does not say %q: %s", sentence, a.text())
		}
		b.get("/account").leadsTo("/sign-in?then=%2Faccount")
	}
	const unbelieved = "What the works answered can't be believed, so nobody was signed in."
	t.Run("sound answers sign in, so what follows shows something", func(t *testing.T) {
		b := s.browser()
		b.get(b.atProvider("/sign-in/provider", "")).leadsTo("/")
		b.get("/account").wants(http.StatusOK, "The engineer")
		if stub.Asked.Get("code_challenge_method") != "S256" || len(stub.Asked.Get("code_challenge")) != 43 ||
			len(stub.Asked.Get("state")) < 43 || len(stub.Asked.Get("nonce")) < 43 {
			t.Errorf("it was asked %v", stub.Asked)
		}
	})
	claim := func(name string, value any) func(map[string]any) {
		return func(claims map[string]any) { claims[name] = value }
	}
	foreign := providertest.Key(t)
	for name, spoil := range map[string]func(){
		"a token without a signature": func() { stub.Sign = providertest.Unsigned },
		"a token signed by a foreign key": func() {
			stub.Sign = func(claims []byte) string { return providertest.Signed(t, claims, jose.RS256, foreign) }
		},
		"a token signed with the client's secret, or none": func() {
			stub.Sign = func(claims []byte) string {
				return providertest.Signed(t, claims, jose.HS256, []byte("a secret of thirty-two bytes long"))
			}
		},
		"a token for another client": func() { stub.Claims = claim("aud", "somebody-else") },
		"a token for several, made for another": func() {
			stub.Claims = func(c map[string]any) { c["aud"], c["azp"] = []string{"settlemark", "else"}, "else" }
		},
		"a token for several that says not for whom it was made": func() { stub.Claims = claim("aud", []string{"settlemark", "else"}) },
		"a token of another issuer":                              func() { stub.Claims = claim("iss", "https://elsewhere.example") },
		"a token with another nonce":                             func() { stub.Claims = claim("nonce", "another") },
		"a token without a nonce":                                func() { stub.Claims = func(c map[string]any) { delete(c, "nonce") } },
		"a token that is over":                                   func() { stub.Claims = claim("exp", time.Now().Add(-time.Minute).Unix()) },
		"a token that names nobody":                              func() { stub.Claims = claim("sub", "") },
		"no token":                                               func() { stub.Sign = func([]byte) string { return "" } },
		"an answer that names another issuer":                    func() { stub.Answer = func(a url.Values) { a.Set("iss", "https://elsewhere.example") } },
		"a code that nobody gave":                                func() { stub.Answer = func(a url.Values) { a.Set("code", "guessed") } },
	} {
		t.Run(name, func(t *testing.T) {
			spoil()
			defer func() { stub.Sign, stub.Claims, stub.Answer = nil, nil, nil }()
			b := s.browser()
			refused(t, b, b.get(b.atProvider("/sign-in/provider", "")), unbelieved)
		})
	}
	const notBegun = "This answer belongs to no sign-in that was begun in this browser."
	t.Run("an answer is good once", func(t *testing.T) {
		b := s.browser()
		back := b.atProvider("/sign-in/provider", "")
		b.get(back).leadsTo("/")
		b.post("/sign-out")
		refused(t, b, b.get(back), notBegun)
	})
	t.Run("an answer is good in the browser that asked alone", func(t *testing.T) {
		back := s.browser().atProvider("/sign-in/provider", "")
		b := s.browser()
		refused(t, b, b.get(back), notBegun)
		b.get("/sign-in/provider")
		refused(t, b, b.get(back), notBegun)
	})
	t.Run("a code that was stolen is worth nothing without what it is bound to", func(t *testing.T) {
		stolen, err := url.Parse(s.browser().atProvider("/sign-in/provider", ""))
		s.must(err)
		b := s.browser()
		own, err := url.Parse(b.atProvider("/sign-in/provider", ""))
		s.must(err)
		q := own.Query()
		q.Set("code", stolen.Query().Get("code"))
		refused(t, b, b.get(callback+"?"+q.Encode()), unbelieved)
	})
	t.Run("a code is good once", func(t *testing.T) {
		first := s.browser()
		back, err := url.Parse(first.atProvider("/sign-in/provider", ""))
		s.must(err)
		first.get(back.RequestURI()).leadsTo("/")
		b := s.browser()
		own, err := url.Parse(b.atProvider("/sign-in/provider", ""))
		s.must(err)
		q := own.Query()
		q.Set("code", back.Query().Get("code"))
		refused(t, b, b.get(callback+"?"+q.Encode()), unbelieved)
	})
	t.Run("a refusal there is said", func(t *testing.T) {
		stub.Answer = func(a url.Values) { a.Del("code"); a.Set("error", "access_denied") }
		defer func() { stub.Answer = nil }()
		b := s.browser()
		refused(t, b, b.get(b.atProvider("/sign-in/provider", "")), "the works did not let you in.")
	})
	t.Run("what it says of a second factor is not asked", func(t *testing.T) {
		s.add("newcomer")
		s.change("delete from settlemark.code_seeds where person_id = (select id from settlemark.persons where login = 'newcomer')")
		s.change("insert into settlemark.identities (issuer, subject, person_id, linked_at) select '" + stub.URL + "', 'newcomer', id, now() from settlemark.persons where login = 'newcomer'")
		stub.Claims = func(c map[string]any) { c["sub"], c["amr"], c["acr"] = "newcomer", []string{"mfa", "otp"}, "2" }
		defer func() { stub.Claims = nil }()
		b := s.browser()
		b.get(b.atProvider("/sign-in/provider?then=/units", "")).leadsTo("/account/second-factors?then=%2Funits")
		b.post("/account/second-factors/app", "first", s.code()).wants(http.StatusUnprocessableEntity, "That is not your password.")
	})
	t.Run("a provider that is down is said, and the password works", func(t *testing.T) {
		stub.Token = func(w http.ResponseWriter) bool { w.WriteHeader(http.StatusBadGateway); return true }
		defer func() { stub.Token = nil }()
		const down = "the works does not answer as it should just now. Sign in with login, password and code, or try again later."
		b := s.browser()
		a := b.get(b.atProvider("/sign-in/provider", ""))
		refused(t, b, a, down)
		if a.status != http.StatusServiceUnavailable || a.header.Get("Retry-After") == "" {
			t.Errorf("status %d, Retry-After %q", a.status, a.header.Get("Retry-After"))
		}
		gone := httptest.NewServer(nil)
		gone.Close()
		s.screens.Provider = provider.New(provider.Config{Issuer: gone.URL, ClientID: "settlemark", Label: "the works", Callback: s.server.URL + callback}, nil)
		refused(t, b, b.get("/sign-in/provider"), down)
		b.post("/sign-in", "login", "engineer", "password", password, "code", s.code(), "then", "/units").leadsTo("/units")
	})
}

// hidden are the fields that a page's form carries by itself.
func hidden(page *goquery.Document, names ...string) []string {
	var pairs []string
	for _, name := range names {
		value, _ := page.Find("main input[type=hidden][name=" + name + "]").First().Attr("value")
		pairs = append(pairs, name, value)
	}
	return pairs
}
