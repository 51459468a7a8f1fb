package web_test

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"settlemark/internal/auth/authtest"
)

// passkeyHost is a name: for a bare address browsers make no passkeys.
const passkeyHost = "settle.example"

// takesPasskey gives the person of the browser a passkey, and the device it is on.
func (s *site) takesPasskey(b *browser) *authtest.Device {
	s.t.Helper()
	s.screens.PublicURL = "https://" + passkeyHost
	d := authtest.New(passkeyHost, s.screens.PublicURL)
	made := d.Makes(b.challenge())
	b.post("/account/second-factors/passkey", s.proven("name", "Tablet", "made", made)...).leadsTo("/account/second-factors")
	return d
}

// challenge is what the page asks for before a device is asked.
func (b *browser) challenge() []byte {
	b.t.Helper()
	var said struct{ Challenge string }
	a := b.post("/passkey-challenge")
	if err := json.Unmarshal([]byte(a.body), &said); err != nil {
		b.t.Fatalf("%d %s: %v", a.status, a.body, err)
	}
	return decoded(b.t, said.Challenge)
}

func decoded(t testing.TB, base64url string) []byte {
	t.Helper()
	raw, err := base64.RawURLEncoding.DecodeString(base64url)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// signs puts the answer of a passkey into a form: over what its page shows, what
// is typed and the nonce, reckoned here as static/js/passkey.js does.
func signs(a answer, d *authtest.Device, form url.Values) {
	a.t.Helper()
	box := a.page().Find("[data-passkey=answer]")
	content := decoded(a.t, box.AttrOr("data-shown", "?"))
	typed := ""
	for _, name := range strings.Fields(box.AttrOr("data-typed", "")) {
		typed += "\x00" + strings.TrimSpace(strings.ReplaceAll(strings.Join(form[name], ","), "\r\n", "\n"))
	}
	if strings.Trim(typed, "\x00") != "" {
		sum := sha256.Sum256([]byte("typed/1\x00" + string(content) + typed))
		content = sum[:]
	}
	challenge := sha256.Sum256([]byte("sign/1\x00" + string(content) + form.Get("nonce")))
	said, err := json.Marshal(d.Answers(challenge[:]))
	if err != nil {
		a.t.Fatal(err)
	}
	form.Set("passkey", string(said))
}

// standing is everything that the acts below change.
const standing = `select concat_ws(E'\n',
  (select string_agg(concat_ws('|', id, name, login, disabled_at, same_as), ' ' order by id) from settlemark.persons),
  (select string_agg(concat_ws('|', person_id, role, site_id), ' ' order by person_id, role, site_id) from settlemark.grants),
  (select string_agg(concat_ws('|', encode(code_hash, 'hex'), expires_at), ' ' order by code_hash) from settlemark.invites),
  (select count(*) from settlemark.procedure_rejections), (select count(*) from settlemark.procedure_retirements),
  (select count(*) from settlemark.procedure_approvals), (select count(*) from settlemark.acts where act <> 'five wrong proofs'))`

// Whoever changes who may do what, or what runs are opened with, proves anew who
// they are, over the very thing that is done.
func TestProofs(t *testing.T) {
	s := newSite(t)
	somebody := "/people/" + string(s.add("somebody").ID)
	twin := string(s.add("twin").ID)
	key := s.text("select key from settlemark.procedures limit 1")
	procedure := "/procedures/" + key
	devices := map[string]*authtest.Device{}
	browsers := map[string]*browser{}
	for _, login := range []string{"administrator", "quality"} {
		browsers[login] = s.as(login)
		devices[login] = s.takesPasskey(browsers[login])
	}
	for _, one := range []struct {
		name, login, page, action string
		typed, other              url.Values // as it is meant, and as somebody else would have it
		shows                     string     // afterwards
	}{
		{
			"reject a revision", "quality", procedure + "/1/reject", procedure + "/1/reject",
			url.Values{"reason": {"The soak is too short.\r\nSee the data sheet."}},
			url.Values{"reason": {"No ground"}},
			"Rejected",
		},
		{"retire a procedure", "quality", procedure + "/retire", procedure + "/retire", url.Values{"reason": {"The bench is gone"}}, url.Values{"reason": {"Another"}}, "Retired"},
		{
			"add a person", "administrator", "/people", "/people",
			url.Values{"name": {"Nora Ames"}, "login": {"Nora"}, "roles": {"engineer:1", "quality:0"}},
			url.Values{"name": {"Nora Ames"}, "login": {"Nora"}, "roles": {"engineer:1", "quality:0", "administrator:0"}},
			"One-time code for Nora Ames",
		},
		{"set roles", "administrator", somebody, somebody + "/roles", url.Values{"roles": {"engineer:1"}}, url.Values{"roles": {"supervisor:1"}}, "Roles changed"},
		{"make a one-time code", "administrator", somebody + "/invite", somebody + "/invite", url.Values{"resets": {"password"}}, url.Values{"resets": {"both"}}, "One-time code for"},
		{"say that two are one", "administrator", somebody + "/same", somebody + "/same", url.Values{"same": {twin}}, url.Values{"same": {"P-0001"}}, "Persons joined"},
		{"end an access", "administrator", somebody + "/disable", somebody + "/disable", nil, nil, "Person disabled"},
	} {
		t.Run(one.name, func(t *testing.T) {
			b, d := browsers[one.login], devices[one.login]
			sends := func(typed url.Values, how func(page answer, form url.Values)) answer {
				page := b.get(one.page).wants(http.StatusOK)
				_, form := filled(page, "form[action='"+one.action+"']")
				for name := range one.typed {
					form[name] = typed[name]
				}
				how(page, form)
				return b.do(http.MethodPost, one.action, form)
			}
			b.get(one.page).sound(one.name)
			before := s.text(standing)
			for how, refused := range map[string]struct {
				typed url.Values
				how   func(page answer, form url.Values)
				says  string
			}{
				"without a proof": {one.typed, func(answer, url.Values) {}, "Type your password"},
				"with a wrong password": {one.typed, func(_ answer, form url.Values) {
					form.Set("password", "wrong wrong wrong")
					form.Set("code", s.code())
				}, "Password or code is wrong. Nothing was done"},
				"with a wrong code": {one.typed, func(_ answer, form url.Values) {
					form.Set("password", password)
					form.Set("code", "000000")
				}, "Password or code is wrong. Nothing was done"},
				"with a passkey's answer for another form": {one.typed, func(page answer, form url.Values) {
					nonce := form.Get("nonce")
					form.Set("nonce", "another")
					signs(page, d, form)
					form.Set("nonce", nonce)
				}, "The passkey did not prove that it is you. Nothing was done"},
			} {
				a := sends(refused.typed, refused.how).wants(http.StatusUnprocessableEntity, refused.says)
				a.sound(one.name + " " + how)
				if after := s.text(standing); after != before {
					t.Fatalf("%s: %s became %s", how, before, after)
				}
				kept(a, one.action, one.typed)
				s.change("update settlemark.persons set wrong_proofs = 0")
			}
			if one.other != nil {
				sends(one.other, func(page answer, form url.Values) {
					for name := range one.typed {
						form[name] = one.typed[name]
					}
					signs(page, d, form)
					for name := range one.typed {
						form[name] = one.other[name]
					}
				}).wants(http.StatusUnprocessableEntity, "The passkey did not prove")
				if after := s.text(standing); after != before {
					t.Fatalf("what was typed is not signed: %s became %s", before, after)
				}
			}
			a := sends(one.typed, func(page answer, form url.Values) { signs(page, d, form) })
			if a.status == http.StatusSeeOther {
				a = b.get(a.header.Get("Location"))
			}
			a.wants(http.StatusOK, one.shows)
			if s.text(standing) == before {
				t.Error("nothing was done")
			}
		})
	}
	t.Run("the_two_are_named_on_both_pages", func(t *testing.T) {
		b := browsers["administrator"]
		b.get(somebody).wants(http.StatusOK, "The same human being as", "The twin, twin", "Persons joined")
		b.get("/people/"+twin).wants(http.StatusOK, "The same human being as", "The somebody, somebody")
	})
}

// kept wants that what was typed stands in the form that came back.
func kept(a answer, action string, typed url.Values) {
	a.t.Helper()
	_, back := filled(a, "form[action='"+action+"']")
	for name, values := range typed {
		if got := back[name]; strings.Join(got, ",") != strings.Join(values, ",") {
			a.t.Errorf("%s was %q and came back as %q", name, values, got)
		}
	}
}
