package handlers

import (
	"encoding/base64"
	"errors"
	"net/http"
	"net/url"

	"github.com/a-h/templ"

	"settlemark/db"
	"settlemark/internal/act"
	"settlemark/internal/auth"
	"settlemark/templates/parts"
	"settlemark/web/respond"
	"settlemark/web/session"
)

// signedFields are the fields of a form with parts.SigningProof, beside its own.
func signedFields(own ...string) []string {
	return append(own, "nonce", "password", "code", "passkey")
}

// signingOf reads the proof of identity of a form; the act says what is wrong
// with it.
func signingOf(r *http.Request, form url.Values) act.Signing {
	s := act.Signing{Nonce: form.Get("nonce"), Proof: act.Proof{Password: form.Get("password"), Code: form.Get("code")}}
	if text := form.Get("passkey"); text != "" {
		s.Proof.Passkey = auth.ReadAssertion(text)
	}
	return s
}

// proving is what the form must know about its signer, for a content by its hash.
func (s *Screens) proving(r *http.Request, content []byte) (parts.Proving, error) {
	f, err := s.DB.Factors(r.Context(), session.Person(r).ID)
	if err != nil {
		return parts.Proving{}, err
	}
	nonce, rp := newID(), s.rp(r)
	p := parts.Proving{
		Nonce: nonce, Challenge: base64.RawURLEncoding.EncodeToString(auth.SigningChallenge(content, nonce)), RP: rp,
		App: f.App, None: !f.App && len(f.Passkeys) == 0,
	}
	for _, k := range f.Passkeys {
		if k.RP == rp {
			p.Passkeys = append(p.Passkeys, base64.RawURLEncoding.EncodeToString(k.ID))
		}
	}
	if f.App {
		p.Demo = s.demoCode(f)
	}
	return p, nil
}

// rp is the name under which passkeys are kept here: the host of the site's own
// address, else of the request.
func (s *Screens) rp(r *http.Request) string {
	if u, err := url.Parse(s.PublicURL); err == nil && u.Host != "" {
		return auth.RP(u.Host)
	}
	return auth.RP(r.Host)
}

// demoCode is the code that a demo's person would read off their app: the next
// one that is not used. Nothing outside the demo.
func (s *Screens) demoCode(f db.Factors) string {
	if len(s.DemoSeed) == 0 {
		return ""
	}
	return auth.CodeAt(s.DemoSeed, max(auth.Step(s.Now()), f.LastStep+1))
}

// proofRefused shows the form again after a proof of identity was refused, and
// ends the session after too many of them.
func (s *Screens) proofRefused(w http.ResponseWriter, r *http.Request, err error, page templ.Component) error {
	if errors.Is(err, act.ErrSessionOver) {
		if out := session.SignOut(w, r); out != nil {
			return out
		}
	}
	return respond.Refused(w, r, err, page)
}
