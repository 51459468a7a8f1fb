package web_test

import (
	"net/http"
	"strings"
	"testing"
)

func TestLock(t *testing.T) {
	s := newSite(t)
	lock := func(login string) *browser {
		s.change("delete from settlemark.throttles")
		b := s.as(login)
		if a := b.post("/lock"); a.status != http.StatusNoContent {
			t.Fatalf("it is not locked: %d", a.status)
		}
		return b
	}
	t.Run("a locked screen shows and takes nothing, and names nobody", func(t *testing.T) {
		b := lock("supervisor")
		b.get("/units?x=1").leadsTo("/unlock?then=%2Funits%3Fx%3D1")
		b.post("/lines", "name", "Line 9").wants(http.StatusForbidden, "The screen was locked, so nothing was stored.")
		if a := b.do(http.MethodGet, "/units", nil, "HX-Request", "true"); a.status != http.StatusForbidden || a.body != "" || a.header.Get("HX-Reswap") != "none" {
			t.Errorf("a piece of a page: %d %q", a.status, a.body)
		}
		if a := b.do(http.MethodPost, "/runs/"+nowhere+"/pencil", nil, "Settlemark-Tablet", "1"); a.status != http.StatusUnauthorized {
			t.Errorf("what a tablet kept is answered %d, so it would not keep it", a.status)
		}
		for _, page := range []string{"/unlock?then=/units", "/verify", "/invite"} {
			if a := b.get(page).wants(http.StatusOK); strings.Contains(a.body, "The supervisor") {
				t.Errorf("%s names the person", page)
			}
		}
	})
	t.Run("password, code or recovery code unlock it, under a new token", func(t *testing.T) {
		for name, secret := range map[string]func() string{"password": func() string { return password }, "code": s.code} {
			b := lock("engineer")
			before := value(cookieOf(b.get("/unlock"), "__Host-settlemark"))
			b.post("/unlock", "unlock_password", secret(), "then", "/units/QU-01").leadsTo("/units/QU-01")
			after := value(cookieOf(b.get("/units/QU-01").wants(http.StatusOK, "Unit QU-01"), "__Host-settlemark"))
			if before == after || after == "" {
				t.Errorf("by %s: the token is the same", name)
			}
			s.browser().do(http.MethodGet, "/account", nil, "Cookie", "__Host-settlemark="+before).leadsTo("/sign-in?then=%2Faccount")
		}
	})
	t.Run("the page's script is answered without a page", func(t *testing.T) {
		b := lock("engineer")
		form := map[string][]string{"unlock_password": {password}, "person": {string(s.people["engineer"].ID)}}
		if a := b.do(http.MethodPost, "/unlock", form, "HX-Request", "true"); a.status != http.StatusNoContent {
			t.Errorf("status %d: %s", a.status, a.text())
		}
		form["person"] = []string{string(s.people["quality"].ID)}
		b.do(http.MethodPost, "/unlock", form, "HX-Request", "true").wants(http.StatusConflict, "Somebody else is signed in here now.")
	})
	t.Run("nothing and something wrong do not, and the fifth signs out", func(t *testing.T) {
		b := lock("quality")
		b.post("/unlock", "then", "/").wants(http.StatusUnprocessableEntity, "Type your password, or the code")
		for range 4 {
			b.post("/unlock", "unlock_password", "not the password", "then", "/").wants(http.StatusUnprocessableEntity, "That is neither your password nor a code of yours.")
			b.get("/account").leadsTo("/unlock?then=%2Faccount")
			s.change("delete from settlemark.throttles")
		}
		b.post("/unlock", "unlock_password", "not the password", "then", "/").wants(http.StatusForbidden, "wrong five times in a row")
		b.get("/account").leadsTo("/sign-in?then=%2Faccount")
	})
	t.Run("the shift ends when it would have ended", func(t *testing.T) {
		b := lock("engineer")
		const end = `select max(convert_from(data, 'UTF8')::json ->> 'deadline') from settlemark.sessions where expires_at > now() and convert_from(data, 'UTF8')::json #>> '{values,person}' = (select id from settlemark.persons where login = 'engineer') and seen_at = (select max(seen_at) from settlemark.sessions)`
		b.get("/unlock")
		before := s.text(end)
		b.post("/unlock", "unlock_password", password, "then", "/").leadsTo("/")
		if after := s.text(end); after != before || before == "" {
			t.Errorf("%q, then %q", before, after)
		}
	})
	t.Run("signing out is not refused", func(t *testing.T) {
		b := lock("engineer")
		b.post("/sign-out").leadsTo("/sign-in")
		b.get("/account").leadsTo("/sign-in?then=%2Faccount")
	})
}
