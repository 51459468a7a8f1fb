// Package providertest is a small OpenID provider that gives faulty answers on
// demand. For tests only; whether we get on with a sound one is tried against a
// provider that others maintain.
package providertest

import (
	"crypto/rand"
	"crypto/rsa"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"sync"
	"testing"
	"time"

	"github.com/go-jose/go-jose/v4"
)

// Stub signs everybody in as Subject. Its fields spoil what it answers.
type Stub struct {
	URL      string
	ClientID string
	Subject  string

	Claims func(map[string]any)             // changes the token's claims
	Sign   func(claims []byte) string       // instead of signing with its own key
	Answer func(url.Values)                 // changes what it leads the browser back with
	Token  func(w http.ResponseWriter) bool // answers in place of the token endpoint when true
	Asked  url.Values                       // of the last question of the browser

	t     testing.TB
	now   func() time.Time
	key   *rsa.PrivateKey
	mu    sync.Mutex
	codes map[string]url.Values
}

// New serves a provider until the test ends.
func New(t testing.TB, clientID string, now func() time.Time) *Stub {
	t.Helper()
	s := &Stub{ClientID: clientID, Subject: "person-1", t: t, now: now, key: Key(t), codes: map[string]url.Values{}}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /.well-known/openid-configuration", s.configuration)
	mux.HandleFunc("GET /keys", s.keys)
	mux.HandleFunc("GET /authorize", s.authorize)
	mux.HandleFunc("POST /token", s.token)
	server := httptest.NewServer(mux)
	t.Cleanup(server.Close)
	s.URL = server.URL
	return s
}

// Key makes a key that a token can be signed with.
func Key(t testing.TB) *rsa.PrivateKey {
	t.Helper()
	key, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

// Signed gives the claims as a token (RFC 7519) with the given algorithm and key.
func Signed(t testing.TB, claims []byte, algorithm jose.SignatureAlgorithm, key any) string {
	t.Helper()
	signer, err := jose.NewSigner(jose.SigningKey{Algorithm: algorithm, Key: key}, (&jose.SignerOptions{}).WithHeader("kid", "1"))
	if err != nil {
		t.Fatal(err)
	}
	signed, err := signer.Sign(claims)
	if err != nil {
		t.Fatal(err)
	}
	text, err := signed.CompactSerialize()
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// Unsigned gives the claims as a token that says it needs no signature.
func Unsigned(claims []byte) string {
	b64 := base64.RawURLEncoding
	return b64.EncodeToString([]byte(`{"alg":"none","typ":"JWT"}`)) + "." + b64.EncodeToString(claims) + "."
}

// PublicKey is its own, for a token that is signed with the public half as if
// that were a secret.
func (s *Stub) PublicKey() *rsa.PublicKey { return &s.key.PublicKey }

func (s *Stub) configuration(w http.ResponseWriter, _ *http.Request) {
	s.write(w, map[string]any{
		"issuer": s.URL, "authorization_endpoint": s.URL + "/authorize", "token_endpoint": s.URL + "/token", "jwks_uri": s.URL + "/keys",
		"response_types_supported": []string{"code"}, "subject_types_supported": []string{"public"},
		"id_token_signing_alg_values_supported": []string{"RS256", "HS256", "none"},
	})
}

func (s *Stub) keys(w http.ResponseWriter, _ *http.Request) {
	s.write(w, jose.JSONWebKeySet{Keys: []jose.JSONWebKey{{Key: &s.key.PublicKey, KeyID: "1", Algorithm: "RS256", Use: "sig"}}})
}

// authorize asks nobody and leads back with a code.
func (s *Stub) authorize(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.Asked = r.URL.Query()
	code := rand.Text()
	s.codes[code] = s.Asked
	answer := url.Values{"code": {code}, "state": {s.Asked.Get("state")}}
	if s.Answer != nil {
		s.Answer(answer)
	}
	http.Redirect(w, r, s.Asked.Get("redirect_uri")+"?"+answer.Encode(), http.StatusFound)
}

// token gives a code's token once, to whoever knows what the code is bound to
// (RFC 7636, section 4.6).
func (s *Stub) token(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.Token != nil && s.Token(w) {
		return
	}
	asked, known := s.codes[r.FormValue("code")]
	delete(s.codes, r.FormValue("code"))
	sum := sha256.Sum256([]byte(r.FormValue("code_verifier")))
	challenge := base64.RawURLEncoding.EncodeToString(sum[:])
	if !known || asked.Get("code_challenge_method") != "S256" || challenge != asked.Get("code_challenge") {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(http.StatusBadRequest)
		_, _ = w.Write([]byte(`{"error":"invalid_grant"}`))
		return
	}
	now := s.now()
	claims := map[string]any{
		"iss": s.URL, "sub": s.Subject, "aud": s.ClientID, "nonce": asked.Get("nonce"),
		"iat": now.Unix(), "exp": now.Add(time.Minute).Unix(), "preferred_username": "mira",
	}
	if s.Claims != nil {
		s.Claims(claims)
	}
	body, err := json.Marshal(claims)
	if err != nil {
		s.t.Error(err)
	}
	sign := s.Sign
	if sign == nil {
		sign = func(claims []byte) string { return Signed(s.t, claims, jose.RS256, s.key) }
	}
	s.write(w, map[string]any{"access_token": "a", "token_type": "Bearer", "id_token": sign(body)})
}

func (s *Stub) write(w http.ResponseWriter, what any) {
	w.Header().Set("Content-Type", "application/json")
	if err := json.NewEncoder(w).Encode(what); err != nil {
		s.t.Error(err)
	}
}
