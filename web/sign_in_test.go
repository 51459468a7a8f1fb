package web_test

import (
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"settlemark/web"
)

// locked lets several requests write one log.
type locked struct {
	mu sync.Mutex
	w  *strings.Builder
}

func (l *locked) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.w.Write(p)
}

func cookieOf(a answer, name string) string {
	for _, line := range a.header.Values("Set-Cookie") {
		if strings.HasPrefix(line, name+"=") {
			return line
		}
	}
	return ""
}

func TestSignIn(t *testing.T) {
	s := newSite(t)
	t.Run("right_password_goes_back_to_the_page_asked_for", func(t *testing.T) {
		b := s.browser()
		b.get("/units/QU-01?x=1").leadsTo("/sign-in?then=%2Funits%2FQU-01%3Fx%3D1")
		b.post("/sign-in", "login", "engineer", "password", password, "code", s.code(), "then", "/units/QU-01").leadsTo("/units/QU-01")
		b.get("/units/QU-01").wants(200, "Unit QU-01")
	})
	t.Run("never_leads_to_another_site", func(t *testing.T) {
		for _, then := range []string{"https://elsewhere.example/", "//elsewhere.example", `/\elsewhere.example`, "javascript:alert(1)"} {
			s.browser().post("/sign-in", "login", "engineer", "password", password, "code", s.code(), "then", then).leadsTo("/")
		}
	})
	t.Run("wrong_password_and_unknown_login_get_one_sentence", func(t *testing.T) {
		wrong := s.browser().post("/sign-in", "login", "quality", "password", "not the password", "then", "/").wants(422)
		unknown := s.browser().post("/sign-in", "login", "nobody.such", "password", "not the password", "then", "/").wants(422)
		a, b := wrong.page().Find("#summary").Text(), unknown.page().Find("#summary").Text()
		if a != b || a == "" {
			t.Errorf("the sentences differ: %q, %q", a, b)
		}
		if v, _ := wrong.page().Find("#field-login").Attr("value"); v != "quality" {
			t.Errorf("the login typed is lost: %q", v)
		}
		if strings.Contains(wrong.body, "not the password") {
			t.Error("the password stands in the page")
		}
	})
	t.Run("cookie_is_host_only_secure_httponly_lax", func(t *testing.T) {
		a := s.browser().post("/sign-in", "login", "engineer", "password", password, "code", s.code(), "then", "/")
		c := cookieOf(a, "__Host-settlemark")
		for _, part := range []string{"Path=/;", "HttpOnly", "Secure", "SameSite=Lax"} {
			if !strings.Contains(c, part) {
				t.Errorf("%q lacks %s", c, part)
			}
		}
		if strings.Contains(c, "Domain") {
			t.Errorf("%q names a domain", c)
		}
	})
	t.Run("token_is_new_at_sign_in_and_the_one_before_is_worth_nothing", func(t *testing.T) {
		b := s.as("engineer")
		first := value(cookieOf(b.get("/account"), "__Host-settlemark"))
		second := value(cookieOf(b.post("/sign-in", "login", "quality", "password", password, "code", s.code(), "then", "/"), "__Host-settlemark"))
		if first == second || first == "" || second == "" {
			t.Errorf("tokens %q, %q", first, second)
		}
		s.browser().do(http.MethodGet, "/account", nil, "Cookie", "__Host-settlemark="+first).leadsTo("/sign-in?then=%2Faccount")
	})
	t.Run("ends_after_30_min_idle_and_12_h_at_most", func(t *testing.T) {
		b := s.as("quality")
		idle := s.text("select round(extract(epoch from max(expires_at) - now()) / 60)::text from settlemark.sessions")
		whole := s.text(`select round(extract(epoch from max((convert_from(data, 'UTF8')::json ->> 'deadline')::timestamptz) - now()) / 3600)::text from settlemark.sessions`)
		if idle != "30" || whole != "12" {
			t.Errorf("ends after %s min idle, %s h", idle, whole)
		}
		s.change("update settlemark.sessions set expires_at = now() - interval '1 second'")
		b.get("/account").leadsTo("/sign-in?then=%2Faccount")
	})
	t.Run("database_holds_no_token", func(t *testing.T) {
		b := s.as("supervisor")
		token := value(cookieOf(b.get("/account"), "__Host-settlemark"))
		if strings.Contains(s.sessions(), token) || token == "" {
			t.Error("a cookie's token is stored as it is")
		}
	})
}

// The waits themselves are tried in internal/act, by the clock of the test.
func TestSignInSlowed(t *testing.T) {
	s := newSite(t)
	tries := func() string {
		return s.text("select coalesce(sum(tries), 0)::text from settlemark.throttles where key like 'address %'")
	}
	s.as("engineer")
	t.Run("a right sign-in does not count towards those of its address", func(t *testing.T) {
		if got := tries(); got != "0" {
			t.Errorf("%s are counted", got)
		}
	})
	wrong := func(login string) answer {
		return s.browser().post("/sign-in", "login", login, "password", "not the password", "then", "/")
	}
	t.Run("a wrong one does, and too many are answered 429 with how long to wait", func(t *testing.T) {
		wrong("nobody").wants(http.StatusUnprocessableEntity)
		if got := tries(); got != "1" {
			t.Errorf("%s are counted", got)
		}
		s.change("update settlemark.throttles set tries = 20 where key like 'address %'")
		a := wrong("nobody.else").wants(http.StatusTooManyRequests, "Too many tries. Wait ")
		if wait, err := strconv.Atoi(a.header.Get("Retry-After")); err != nil || wait < 1 || wait > 60 {
			t.Errorf("Retry-After %q", a.header.Get("Retry-After"))
		}
	})
}

func value(setCookie string) string {
	_, rest, _ := strings.Cut(setCookie, "=")
	v, _, _ := strings.Cut(rest, ";")
	return v
}

// sessions is everything that the table of sessions holds, as text.
func (s *site) sessions() string {
	s.t.Helper()
	return s.text("select coalesce(string_agg(token_hash::text || convert_from(data, 'UTF8'), ' '), '') from settlemark.sessions")
}

func TestSignOut(t *testing.T) {
	s := newSite(t)
	t.Run("ends_the_session_and_clears_the_browser", func(t *testing.T) {
		b := s.as("engineer")
		out := b.post("/sign-out").leadsTo("/sign-in")
		if got := out.header.Get("Clear-Site-Data"); got != `"cache", "cookies", "storage"` {
			t.Errorf("Clear-Site-Data %q", got)
		}
		b.get("/account").leadsTo("/sign-in?then=%2Faccount")
	})
	t.Run("an_old_cookie_is_worth_nothing_afterwards", func(t *testing.T) {
		b := s.as("engineer")
		token := value(cookieOf(b.get("/account"), "__Host-settlemark"))
		b.post("/sign-out")
		s.browser().do(http.MethodGet, "/account", nil, "Cookie", "__Host-settlemark="+token).leadsTo("/sign-in?then=%2Faccount")
	})
	t.Run("everywhere_ends_the_other_browser_too_and_nobody_elses", func(t *testing.T) {
		here, there, other := s.as("engineer"), s.as("engineer"), s.as("quality")
		here.post("/account/sign-out-everywhere").leadsTo("/sign-in")
		there.get("/account").leadsTo("/sign-in?then=%2Faccount")
		other.get("/account").wants(200, "The quality")
	})
	t.Run("disabled_person_is_out_with_the_next_request", func(t *testing.T) {
		p := s.add("leaver")
		b := s.as("leaver")
		b.get("/account").wants(200, "The leaver")
		s.must(s.acts.DisablePerson(t.Context(), s.admin, p.ID, s.proof(), time.Now()))
		b.get("/account").leadsTo("/sign-in?then=%2Faccount")
		s.browser().post("/sign-in", "login", "leaver", "password", password, "then", "/").wants(422, "Login, password or code is wrong")
	})
	t.Run("a_form_sent_afterwards_says_why_it_was_not_taken", func(t *testing.T) {
		s.browser().post("/lines", "name", "Line 9").wants(403, "Your sign-in has ended, so nothing was stored.")
	})
}

func TestPlainHTTP(t *testing.T) {
	s := newSite(t)
	open := httptest.NewServer(web.Handler(s.screens, web.Config{}))
	t.Cleanup(open.Close)
	b := s.browser()
	b.base = open.URL
	login := func() url.Values {
		return url.Values{"login": {"engineer"}, "password": {password}, "code": {s.code()}, "then": {"/"}}
	}
	t.Run("loopback_may_sign_in_with_the_same_secure_cookie", func(t *testing.T) {
		a := b.do(http.MethodPost, "/sign-in", login()).leadsTo("/")
		if c := cookieOf(a, "__Host-settlemark"); !strings.Contains(c, "Secure") || !strings.Contains(c, "HttpOnly") {
			t.Errorf("cookie %q", c)
		}
	})
	for name, headers := range map[string][]string{
		"another_host_is_told_why":                    {"Host", "plant.example:8080"},
		"an_address_of_the_network_is_told_why":       {"Host", "192.168.4.7"},
		"a_proxy_nobody_trusts_is_told_why":           {"X-Forwarded-For", "192.168.4.9"},
		"forwarded_proto_is_not_believed_by_itself":   {"X-Forwarded-Proto", "https"},
		"a_name_that_begins_like_localhost_is_no_use": {"Host", "localhost.plant.example"},
	} {
		t.Run(name, func(t *testing.T) {
			b := s.browser()
			b.base = open.URL
			page := b.do(http.MethodGet, "/sign-in", nil, headers...).wants(200, "You can't sign in here, because this address is not encrypted")
			if n := page.page().Find("input[type=password]").Length(); n != 0 {
				t.Error("the page asks for a password all the same")
			}
			a := b.do(http.MethodPost, "/sign-in", login(), headers...).wants(403, "not encrypted")
			if c := a.header.Values("Set-Cookie"); len(c) != 0 {
				t.Errorf("cookies %q", c)
			}
		})
	}
	t.Run("a_trusted_proxy_is_believed", func(t *testing.T) {
		behind := httptest.NewServer(web.Handler(s.screens, web.Config{Proxies: []netip.Prefix{netip.MustParsePrefix("127.0.0.0/8")}}))
		t.Cleanup(behind.Close)
		b := s.browser()
		b.base = behind.URL
		a := b.do(http.MethodPost, "/sign-in", login(), "Host", "plant.example", "X-Forwarded-Proto", "https", "X-Forwarded-For", "192.168.4.9").leadsTo("/")
		if cookieOf(a, "__Host-settlemark") == "" {
			t.Errorf("cookies %q", a.header.Values("Set-Cookie"))
		}
		if !strings.Contains(s.log.String(), `"from":"192.168.4.9"`) {
			t.Error("the log does not name the address behind the proxy")
		}
	})
}
