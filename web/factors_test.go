package web_test

import (
	"encoding/base32"
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"

	"settlemark/internal/auth"
	"settlemark/internal/auth/authtest"
	"settlemark/internal/commissioning"
)

// invited adds somebody through the pages and gives their browser, signed in and
// without a second factor yet.
func (s *site) invited(admin *browser, login string) *browser {
	s.t.Helper()
	page := admin.post("/people", s.proven("name", "The "+login, "login", login, "roles", "engineer:1")...).wants(http.StatusOK)
	b := s.browser()
	b.post("/invite", "code", page.page().Find(".code-once").Text(), "password", password).leadsTo("/account/second-factors")
	return b
}

// offered is the seed that the page of the authenticator app shows.
func (b *browser) offered() []byte {
	b.t.Helper()
	shown := b.get("/account/second-factors/app").wants(http.StatusOK).page().Find("main p .mono").Text()
	seed, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(strings.ReplaceAll(shown, " ", ""))
	if err != nil {
		b.t.Fatalf("%q: %v", shown, err)
	}
	return seed
}

// recovery are the codes that a page shows, once.
func (a answer) recovery() []string {
	a.t.Helper()
	codes := a.wants(http.StatusOK, "Your recovery codes", "shown only now").page().Find(".codes li").Map(func(_ int, li *goquery.Selection) string {
		return strings.TrimSpace(li.Text())
	})
	if len(codes) != 10 {
		a.t.Fatalf("%d recovery codes", len(codes))
	}
	return codes
}

// signsIn tries to sign in with a code of the second factor.
func (s *site) signsIn(login, code string) answer {
	s.change("delete from settlemark.throttles")
	return s.browser().post("/sign-in", "login", login, "password", password, "code", code, "then", "/account")
}

// inBy signs in by a passkey, in a browser of its own; the challenge is the one
// asked for, or another.
func (s *site) inBy(d *authtest.Device, challenge []byte) answer {
	s.t.Helper()
	s.change("delete from settlemark.throttles")
	b := s.browser()
	asked := b.challenge()
	if challenge == nil {
		challenge = asked
	}
	said, err := json.Marshal(d.Answers(challenge))
	s.must(err)
	return b.post("/sign-in/passkey", "passkey", string(said), "then", "/account")
}

// A person's own second factors, from the first one to the loss of all.
func TestSecondFactors(t *testing.T) {
	s := newSite(t)
	admin := s.as("administrator")
	b := s.invited(admin, "nela")
	var seed []byte
	var recovery []string
	t.Run("without one nothing is signed, and the page leads to it", func(t *testing.T) {
		a := b.get("/account/recovery-codes")
		a.sound("the page of somebody without a second factor")
		b.get("/account/second-factors").wants(http.StatusOK, "You have none yet")
	})
	t.Run("an app is in use from its first right code on", func(t *testing.T) {
		seed = b.offered()
		if string(b.offered()) != string(seed) {
			t.Error("the page loaded again shows another key")
		}
		b.post("/account/second-factors/app", "password", password, "first", "000000").wants(http.StatusUnprocessableEntity, "This is not the code of the app")
		b.post("/account/second-factors/app", "password", "wrong wrong wrong", "first", s.codeOf(seed)).wants(http.StatusUnprocessableEntity, "not your password")
		s.signsIn("nela", "").leadsTo("/account/second-factors?then=%2Faccount") // none is in use yet
		recovery = b.post("/account/second-factors/app", "password", password, "first", s.codeOf(seed)).recovery()
		if strings.Contains(b.get("/account/second-factors").body, recovery[0]) {
			t.Error("a recovery code is shown again")
		}
	})
	t.Run("from then on signing in asks for it, each code once", func(t *testing.T) {
		code := s.codeOf(seed)
		s.signsIn("nela", "").wants(http.StatusUnprocessableEntity, "Login, password or code is wrong")
		s.signsIn("nela", "000000").wants(http.StatusUnprocessableEntity)
		s.signsIn("nela", code).leadsTo("/account")
		s.signsIn("nela", code).wants(http.StatusUnprocessableEntity, "This code was used before")
	})
	t.Run("a recovery code takes its place, once", func(t *testing.T) {
		s.signsIn("nela", recovery[0]).leadsTo("/account")
		s.signsIn("nela", recovery[0]).wants(http.StatusUnprocessableEntity)
		b.get("/account/second-factors").wants(http.StatusOK, "9 codes left")
	})
	t.Run("new recovery codes make the old ones void, and only with a proof", func(t *testing.T) {
		b.post("/account/recovery-codes", "nonce", "r-0", "password", password, "code", "000000").wants(http.StatusUnprocessableEntity, "Nothing was done")
		s.signsIn("nela", recovery[1]).leadsTo("/account")
		fresh := b.post("/account/recovery-codes", "nonce", "r-1", "password", password, "code", s.codeOf(seed)).recovery()
		s.signsIn("nela", recovery[2]).wants(http.StatusUnprocessableEntity)
		s.signsIn("nela", fresh[0]).leadsTo("/account")
		recovery = fresh
	})
	t.Run("the last second factor stays", func(t *testing.T) {
		b.post("/account/second-factors/remove", "which", "app", "nonce", "l-1", "password", password, "code", s.codeOf(seed)).
			wants(http.StatusConflict, "This is your last second factor")
	})
	s.passkeys(t, b, &seed)
	t.Run("another app takes the place of the one before", func(t *testing.T) {
		second := b.offered()
		b.post("/account/second-factors/app", "nonce", "a-1", "password", password, "code", s.codeOf(seed), "first", s.codeOf(second)).leadsTo("/account/second-factors")
		s.signsIn("nela", s.codeOf(seed)).wants(http.StatusUnprocessableEntity)
		s.signsIn("nela", s.codeOf(second)).leadsTo("/account")
		seed = second
	})
	t.Run("guessing codes is slowed down", func(t *testing.T) {
		s.change("delete from settlemark.throttles")
		slow := s.browser()
		for range 5 {
			slow.post("/sign-in", "login", "nela", "password", password, "code", "000000", "then", "/").wants(http.StatusUnprocessableEntity)
		}
		a := slow.post("/sign-in", "login", "nela", "password", password, "code", s.codeOf(seed), "then", "/").wants(http.StatusTooManyRequests, "Too many tries. Wait")
		if a.header.Get("Retry-After") == "" {
			t.Error("it is not said when to try again")
		}
	})
	t.Run("five wrong proofs in a row end the session, and stand among the acts", func(t *testing.T) {
		for n := range 5 {
			b.post("/account/recovery-codes", "nonce", "w", "password", password, "code", "00000"+string(rune('0'+n)))
		}
		b.get("/account").leadsTo("/sign-in?then=%2Faccount")
		admin.get("/people/"+s.text("select id from settlemark.persons where login = 'nela'")).wants(http.StatusOK, "Five wrong proofs")
	})
	s.lostFactors(t, admin, seed)
}

// passkeys are added, sign in, sign and are removed beside an app.
func (s *site) passkeys(t *testing.T, b *browser, seed *[]byte) {
	s.screens.PublicURL = "https://" + passkeyHost
	d := authtest.New(passkeyHost, s.screens.PublicURL)
	adds := func(made, code string) answer {
		return b.post("/account/second-factors/passkey", "nonce", "p-"+code+made[:min(len(made), 3)], "name", "Tablet", "made", made, "password", password, "code", code)
	}
	t.Run("a passkey is added with a proof, for the challenge that was asked", func(t *testing.T) {
		made := d.Makes(b.challenge())
		adds(made, "000000").wants(http.StatusUnprocessableEntity, "Nothing was done")
		adds(made, s.codeOf(*seed)).wants(http.StatusUnprocessableEntity, "The device made no passkey") // its challenge is spent
		b.challenge()
		adds(d.Makes([]byte("a challenge of their own")), s.codeOf(*seed)).wants(http.StatusUnprocessableEntity, "The device made no passkey")
		s.inBy(d, nil).wants(http.StatusUnprocessableEntity, "not known here")
		adds(d.Makes(b.challenge()), s.codeOf(*seed)).leadsTo("/account/second-factors")
		b.get("/account/second-factors").wants(http.StatusOK, "Tablet", "made for "+passkeyHost)
	})
	t.Run("it signs in, by the challenge of that browser", func(t *testing.T) {
		s.inBy(d, nil).leadsTo("/account")
		s.inBy(d, []byte("another challenge that nobody asked")).wants(http.StatusUnprocessableEntity, "did not answer as it should")
		s.browser().post("/sign-in/passkey", "passkey", "{}", "then", "/").wants(http.StatusUnprocessableEntity)
	})
	t.Run("a device that does not verify its holder is refused", func(t *testing.T) {
		d.Holder.Options.UserNotVerified = true
		defer func() { d.Holder.Options.UserNotVerified = false }()
		s.inBy(d, nil).wants(http.StatusUnprocessableEntity, "did not answer as it should")
	})
	t.Run("it is removed with its own proof, and signs in no more", func(t *testing.T) {
		page := b.get("/account/second-factors")
		remove := page.page().Find("a[href*='remove?which=']").FilterFunction(func(_ int, a *goquery.Selection) bool {
			return strings.Contains(a.Text(), "Tablet")
		}).AttrOr("href", "")
		form := b.get(remove).wants(http.StatusOK, "Remove a passkey")
		form.sound("the page that removes a passkey")
		_, fields := filled(form, "form[action='/account/second-factors/remove']")
		fields.Set("password", password)
		fields.Set("code", "000000")
		b.do(http.MethodPost, "/account/second-factors/remove", fields).wants(http.StatusUnprocessableEntity, "Nothing was done")
		other := url.Values{"which": {"AAAA"}, "nonce": {"n-1"}, "password": {password}, "code": {s.codeOf(*seed)}}
		b.do(http.MethodPost, "/account/second-factors/remove", other).wants(http.StatusNotFound)
		s.inBy(d, nil).leadsTo("/account")
		fields.Del("password")
		fields.Del("code")
		signs(form, d, fields)
		b.do(http.MethodPost, "/account/second-factors/remove", fields).leadsTo("/account/second-factors")
		s.inBy(d, nil).wants(http.StatusUnprocessableEntity, "not known here")
	})
}

// lostFactors: the phone is gone. A one-time code makes the second factors void,
// if its holder has the password.
func (s *site) lostFactors(t *testing.T, admin *browser, seed []byte) {
	id := commissioning.PersonID(s.text("select id from settlemark.persons where login = 'nela'"))
	t.Run("a one-time code for a lost second factor asks for the password, and makes the old one void", func(t *testing.T) {
		page := admin.post("/people/"+string(id)+"/invite", s.proven("resets", "factors")...).wants(http.StatusOK, "One-time code for")
		code := page.page().Find(".code-once").Text()
		b := s.browser()
		b.post("/invite", "code", code, "password", "not the password at all").wants(http.StatusUnprocessableEntity, "replaces the second factor only")
		s.signsIn("nela", s.codeOf(seed)).leadsTo("/account") // still in force
		s.change("delete from settlemark.throttles")
		b.post("/invite", "code", code, "password", password).leadsTo("/account/second-factors")
		s.signsIn("nela", s.codeOf(seed)).leadsTo("/account/second-factors?then=%2Faccount") // no code is asked for
		fresh := b.offered()
		b.post("/account/second-factors/app", "password", password, "first", auth.CodeAt(fresh, auth.Step(time.Now()))).recovery()
		s.signsIn("nela", s.codeOf(seed)).wants(http.StatusUnprocessableEntity)
		s.signsIn("nela", s.codeOf(fresh)).leadsTo("/account")
	})
}
