package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"settlemark/internal/act"
	"settlemark/internal/commissioning"
)

const tablet = "Mozilla/5.0 (Linux; Android 15; Tablet) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Safari/537.36"

// out says that what the browser holds is worth nothing any more.
func (b *browser) out() {
	b.t.Helper()
	b.get("/account").leadsTo("/sign-in?then=%2Faccount")
}

func TestSessions(t *testing.T) {
	s := newSite(t)
	// In a browser of its own that says what it is.
	onTablet := func(login string) *browser {
		b := s.browser()
		b.do(http.MethodPost, "/sign-in", url.Values{"login": {login}, "password": {password}, "code": {s.code()}, "then": {"/"}}, "User-Agent", tablet).leadsTo("/")
		return b
	}
	// The device by which the page of one browser names the other.
	other := func(b *browser) string {
		device, _ := b.get("/account").page().Find("main input[name=device]").First().Attr("value")
		if !strings.HasPrefix(device, "browser ") {
			t.Fatalf("the account names no other session: %q", device)
		}
		return device
	}
	t.Run("the account lists them and ends one of them", func(t *testing.T) {
		here, there := s.as("engineer"), onTablet("engineer")
		here.get("/account").wants(http.StatusOK, "Chrome on Android", "This one.", "An unknown device")
		here.post("/account/sessions/end", "device", other(here)).leadsTo("/account")
		there.out()
		if n := here.get("/account").page().Find("main input[name=device]").Length(); n != 0 {
			t.Errorf("%d others are listed afterwards", n)
		}
	})
	t.Run("nobody ends those of somebody else", func(t *testing.T) {
		here, there, stranger := s.as("engineer"), s.as("engineer"), s.as("quality")
		stranger.post("/account/sessions/end", "device", other(here)).leadsTo("/account")
		there.get("/account").wants(http.StatusOK, "The engineer")
		stranger.post("/account/sessions/end", "device", "").wants(http.StatusUnprocessableEntity, "Choose where to sign out.")
	})
	t.Run("an administrator ends all of a person's, and the log says so", func(t *testing.T) {
		admin, here, there, quality := s.as("administrator"), s.as("engineer"), s.as("engineer"), s.as("quality")
		id := string(s.people["engineer"].ID)
		quality.post("/people/" + id + "/sign-out").wants(http.StatusForbidden)
		here.get("/account").wants(http.StatusOK)
		admin.post("/people/" + id + "/sign-out").leadsTo("/people/" + id)
		here.out()
		there.out()
		if got := s.text("select act || ' ' || name || ' ' || subject from settlemark.acts order by id desc limit 1"); got != "sessions ended Ada Min "+id {
			t.Errorf("the acts say %q", got)
		}
		admin.get("/people/"+id).wants(http.StatusOK, "Sessions ended")
	})
	for name, ends := range map[string]func(*browser, commissioning.Person){
		"signing out": func(b *browser, _ commissioning.Person) { b.post("/sign-out").leadsTo("/sign-in") },
		"another password": func(b *browser, p commissioning.Person) {
			nonce := hidden(b.get("/account/password").page(), "nonce")
			b.post("/account/password", append(nonce, "new_password", password, "password", password, "code", s.code())...).leadsTo("/account")
		},
		"a password set by one-time code": func(_ *browser, p commissioning.Person) {
			code, err := s.acts.NewInvite(t.Context(), s.admin, p.ID, act.ResetPassword, act.Signing{Nonce: "n", Proof: act.Proof{Password: password, Code: s.code()}}, time.Now())
			s.must(err)
			s.browser().post("/invite", "code", code, "password", password, "second", s.code()).leadsTo("/")
		},
		"the end of access": func(_ *browser, p commissioning.Person) {
			s.must(s.acts.DisablePerson(t.Context(), s.admin, p.ID, s.proof(), time.Now()))
		},
		"a change of roles": func(_ *browser, p commissioning.Person) {
			s.must(s.acts.SetGrants(t.Context(), s.admin, p.ID, []commissioning.Grant{{Role: commissioning.Quality}}, s.proof(), time.Now()))
		},
	} {
		t.Run("an old cookie is refused after "+name, func(t *testing.T) {
			s.change("delete from settlemark.throttles")
			login := "of-" + strings.ReplaceAll(name, " ", "-")
			p := s.add(login)
			b := s.as(login)
			old := value(cookieOf(b.get("/account").wants(http.StatusOK, "The "+login), "__Host-settlemark"))
			ends(b, p)
			s.browser().do(http.MethodGet, "/account", nil, "Cookie", "__Host-settlemark="+old).leadsTo("/sign-in?then=%2Faccount")
		})
	}
}
