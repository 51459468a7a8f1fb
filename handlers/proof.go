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
	"settlemark/internal/problem"
	"settlemark/templates"
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
func signingOf(form url.Values) act.Signing {
	s := act.Signing{Nonce: form.Get("nonce"), Proof: act.Proof{Password: form.Get("password"), Code: form.Get("code")}}
	if text := form.Get("passkey"); text != "" {
		s.Proof.Passkey = auth.ReadAssertion(text)
	}
	return s
}

// proving is what the form must know about its signer, for what it shows by its
// hash and the fields that are signed with it as they are typed.
func (s *Screens) proving(r *http.Request, shown []byte, typed ...string) (parts.Proving, error) {
	f, err := s.DB.Factors(r.Context(), session.Person(r).ID)
	if err != nil {
		return parts.Proving{}, err
	}
	rp := s.rp(r)
	p := parts.Proving{
		Nonce: newID(), Shown: base64.RawURLEncoding.EncodeToString(shown), Typed: typed, RP: rp,
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

// over is proving for one content, for a page that asks for a proof over it.
func (s *Screens) over(shown []byte, typed ...string) prover {
	return func(r *http.Request) (parts.Proving, error) { return s.proving(r, shown, typed...) }
}

// prover fills in what a form must know about its signer.
type prover func(*http.Request) (parts.Proving, error)

// showProven shows the page that asks for one proof before it does one thing.
func (s *Screens) showProven(w http.ResponseWriter, r *http.Request, v templates.ChangeView, proving prover) error {
	var err error
	if v.Proving, err = proving(r); err != nil {
		return err
	}
	return respond.HTML(w, r, http.StatusOK, templates.ChangePage(respond.Frame(r, v.Title, v.Here), v))
}

// provenRefused shows it again, with the refusal and what was typed.
func (s *Screens) provenRefused(w http.ResponseWriter, r *http.Request, v templates.ChangeView, proving prover, form url.Values, err error) error {
	if problem.KindOf(err) == 0 {
		return err
	}
	v.Form = parts.Form{Values: form, Err: err}
	var provingErr error
	if v.Proving, provingErr = proving(r); provingErr != nil {
		return provingErr
	}
	return s.proofRefused(w, r, err, templates.ChangePage(respond.Frame(r, v.Title, v.Here), v))
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
		if out := session.SignOut(r); out != nil {
			return out
		}
	}
	return respond.Refused(w, r, err, page)
}
