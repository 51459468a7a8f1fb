// Package provider signs people in through the site's OpenID provider: OpenID
// Connect Core 1.0, authorization code flow, with PKCE (RFC 7636), state and
// nonce. What comes out is who the provider says somebody is, by issuer and
// subject; who that is here is asked elsewhere.
//
// Nothing else that a provider says is believed: no e-mail address, no role,
// and not that it checked a second factor.
package provider

import (
	"cmp"
	"context"
	"crypto/subtle"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"sync/atomic"
	"time"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// patience bounds each question to the provider.
const patience = 10 * time.Second

// Config says which provider, and as whom we are known there.
type Config struct {
	Issuer       string // as the provider spells it
	ClientID     string
	ClientSecret string // "" for a client that has none; PKCE is used either way
	Label        string // what people call it, on buttons
	Callback     string // our address that the provider leads back to
}

// Provider asks one OpenID provider. It is found at the first question, so a
// provider that is down keeps nothing from starting.
type Provider struct {
	config Config
	client *http.Client
	found  atomic.Pointer[oidc.Provider] // nil until it answered
}

// New makes a provider that is asked through the transport; nil is the usual one.
func New(c Config, transport http.RoundTripper) *Provider {
	return &Provider{config: c, client: &http.Client{Transport: transport, Timeout: patience}}
}

// Label is what people call the provider; "" when there is none.
func (p *Provider) Label() string {
	if p == nil {
		return ""
	}
	return p.config.Label
}

// Attempt is one sign-in that was begun. It must be kept in the browser's
// session and be used once.
type Attempt struct {
	State    string // binds the answer to the browser
	Nonce    string // binds the token to the attempt
	Verifier string // binds the code to the attempt
}

// Begin gives the address to lead the browser to.
func (p *Provider) Begin(ctx context.Context) (address string, a Attempt, err error) {
	exchange, _, err := p.ready(ctx)
	if err != nil {
		return "", a, err
	}
	// Each is 32 bytes from crypto/rand.
	a = Attempt{State: oauth2.GenerateVerifier(), Nonce: oauth2.GenerateVerifier(), Verifier: oauth2.GenerateVerifier()}
	return exchange.AuthCodeURL(a.State, oidc.Nonce(a.Nonce), oauth2.S256ChallengeOption(a.Verifier)), a, nil
}

// Finish takes the answer with which the provider sent the browser back, and
// gives who it says that is. An answer that can't be believed is Invalid, a
// provider that is down Busy.
func (p *Provider) Finish(ctx context.Context, a Attempt, answer url.Values, now time.Time) (commissioning.Identity, error) {
	if a.State == "" || subtle.ConstantTimeCompare([]byte(answer.Get("state")), []byte(a.State)) != 1 {
		return commissioning.Identity{}, p.refused(errors.New("the state is not that of the attempt"),
			words.Say("This answer belongs to no sign-in that was begun in this browser. Begin again."))
	}
	if issuer := answer.Get("iss"); issuer != "" && issuer != p.config.Issuer { // RFC 9207
		return commissioning.Identity{}, p.unbelieved(fmt.Errorf("the answer names the issuer %q", issuer))
	}
	if said := answer.Get("error"); said != "" {
		return commissioning.Identity{}, p.refused(fmt.Errorf("the provider answered %q: %q", said, answer.Get("error_description")),
			words.Say("%s did not let you in. Try again, or sign in with login, password and code.", p.config.Label))
	}
	exchange, found, err := p.ready(ctx)
	if err != nil {
		return commissioning.Identity{}, err
	}
	tokens, err := exchange.Exchange(p.through(ctx), answer.Get("code"), oauth2.VerifierOption(a.Verifier))
	var said *oauth2.RetrieveError
	switch {
	case errors.As(err, &said) && said.Response.StatusCode < http.StatusInternalServerError:
		return commissioning.Identity{}, p.unbelieved(err)
	case err != nil:
		return commissioning.Identity{}, p.down(err)
	}
	raw, _ := tokens.Extra("id_token").(string)
	i, err := p.verified(ctx, found, raw, a.Nonce, now)
	if err == nil && i.Called == i.Subject {
		i.Called = p.called(ctx, found, tokens, i)
	}
	return i, err
}

// called asks how the provider calls somebody whose token does not say it.
func (p *Provider) called(ctx context.Context, found *oidc.Provider, tokens *oauth2.Token, i commissioning.Identity) string {
	var names names
	info, err := found.UserInfo(p.through(ctx), oauth2.StaticTokenSource(tokens))
	if err != nil || info.Subject != i.Subject || info.Claims(&names) != nil {
		return i.Subject // a name is for people to see and decides nothing
	}
	return names.orElse(i.Subject)
}

// names is how a provider calls somebody (Core 1.0, section 5.1).
type names struct {
	Username string `json:"preferred_username"`
	Name     string `json:"name"`
}

func (n names) orElse(subject string) string { return cmp.Or(n.Username, n.Name, subject) }

// verified reads the token: signed by the provider, for us, for this attempt,
// and not over. Its signature has no other algorithm than the provider announced.
func (p *Provider) verified(ctx context.Context, found *oidc.Provider, raw, nonce string, now time.Time) (commissioning.Identity, error) {
	checks := found.Verifier(&oidc.Config{ClientID: p.config.ClientID, Now: func() time.Time { return now }})
	token, err := checks.Verify(ctx, raw)
	if err != nil {
		return commissioning.Identity{}, p.unbelieved(err)
	}
	var claims struct {
		names
		Party string `json:"azp"`
	}
	if err := token.Claims(&claims); err != nil {
		return commissioning.Identity{}, p.unbelieved(err)
	}
	switch {
	case subtle.ConstantTimeCompare([]byte(token.Nonce), []byte(nonce)) != 1:
		err = errors.New("the nonce is not that of the attempt")
	case token.Subject == "" || len(token.Subject) > 255: // as Core 1.0, section 2, bounds it
		err = errors.New("the token names nobody")
	case claims.Party != "" && claims.Party != p.config.ClientID, claims.Party == "" && len(token.Audience) > 1:
		err = fmt.Errorf("the token was made for %q", append(slices.Clone(token.Audience), claims.Party))
	}
	if err != nil {
		return commissioning.Identity{}, p.unbelieved(err)
	}
	return commissioning.Identity{Issuer: token.Issuer, Subject: token.Subject, Called: claims.orElse(token.Subject)}, nil
}

// ready finds the provider, where it was not found before.
func (p *Provider) ready(ctx context.Context) (*oauth2.Config, *oidc.Provider, error) {
	found := p.found.Load()
	if found == nil {
		var err error
		if found, err = oidc.NewProvider(p.through(ctx), p.config.Issuer); err != nil {
			return nil, nil, p.down(err)
		}
		p.found.Store(found)
	}
	return &oauth2.Config{
		ClientID: p.config.ClientID, ClientSecret: p.config.ClientSecret, Endpoint: found.Endpoint(),
		RedirectURL: p.config.Callback, Scopes: []string{oidc.ScopeOpenID, "profile"},
	}, found, nil
}

func (p *Provider) through(ctx context.Context) context.Context {
	return oidc.ClientContext(ctx, p.client)
}

// down says so, and has the provider looked up anew: it may have moved.
func (p *Provider) down(cause error) error {
	p.found.Store(nil)
	return &problem.Error{
		Kind: problem.Busy, Seconds: 60, Cause: cause,
		Sentence: words.Say("%s does not answer as it should just now. Sign in with login, password and code, or try again later.", p.config.Label),
	}
}

func (p *Provider) unbelieved(cause error) error {
	return p.refused(cause, words.Say("What %s answered can't be believed, so nobody was signed in. Try again; if it happens twice, tell your administrator.", p.config.Label))
}

func (p *Provider) refused(cause error, sentence words.Text) error {
	return &problem.Error{Kind: problem.Invalid, Cause: fmt.Errorf("sign-in through %s: %w", p.config.Issuer, cause), Sentence: sentence}
}
