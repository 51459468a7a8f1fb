package auth_test

import (
	"encoding/base64"
	"strings"
	"testing"

	"settlemark/internal/auth"
	"settlemark/internal/auth/authtest"
	"settlemark/internal/commissioning"
)

const site, origin = "settle.example", "https://settle.example"

var b64 = base64.RawURLEncoding

// registered gives a device and the passkey that it made.
func registered(t *testing.T) (*authtest.Device, auth.Passkey) {
	t.Helper()
	d, challenge := authtest.New(site, origin), []byte("drawn by chance")
	key, err := auth.Register(d.Makes(challenge), challenge, site)
	if err != nil {
		t.Fatal(err)
	}
	return d, key
}

func TestRegister(t *testing.T) {
	challenge := []byte("drawn by chance")
	t.Run("gives the passkey with its public key", func(t *testing.T) {
		if _, key := registered(t); len(key.ID) == 0 || len(key.PublicKey) == 0 || key.RP != site {
			t.Errorf("got %+v", key)
		}
	})
	for name, change := range map[string]func(d *authtest.Device) (string, []byte, string){
		"not for another challenge": func(d *authtest.Device) (string, []byte, string) {
			return d.Makes([]byte("another")), challenge, site
		},
		"not without verifying its holder": func(d *authtest.Device) (string, []byte, string) {
			d.Holder.Options.UserNotVerified = true
			return d.Makes(challenge), challenge, site
		},
		"not from another origin": func(d *authtest.Device) (string, []byte, string) {
			d.Site.Origin = "https://settle.example.attacker.example"
			return d.Makes(challenge), challenge, site
		},
		"not over plain http": func(d *authtest.Device) (string, []byte, string) {
			d.Site.Origin = "http://settle.example"
			return d.Makes(challenge), challenge, site
		},
		"not for another site": func(d *authtest.Device) (string, []byte, string) {
			d.Site.ID = "other.example"
			return d.Makes(challenge), challenge, site
		},
		"not what can't be read": func(*authtest.Device) (string, []byte, string) { return "{", challenge, site },
		"not what has more to it": func(d *authtest.Device) (string, []byte, string) {
			return strings.Replace(d.Makes(challenge), "{", `{"rp":"x",`, 1), challenge, site
		},
		"not what is too long": func(*authtest.Device) (string, []byte, string) {
			return `{"credential":"` + strings.Repeat("A", 10_000) + `"}`, challenge, site
		},
	} {
		t.Run(name, func(t *testing.T) {
			if key, err := auth.Register(change(authtest.New(site, origin))); err == nil {
				t.Errorf("got %+v", key)
			}
		})
	}
}

func TestCheckAssertion(t *testing.T) {
	d, key := registered(t)
	content, nonce := auth.ContentHash("test/1", "a run"), "01970000-0000-7000-8000-000000000001"
	said := func() commissioning.Assertion {
		a := *d.Answers(auth.SigningChallenge(content, nonce))
		a.PublicKey = b64.EncodeToString(key.PublicKey)
		return a
	}
	t.Run("passes with nothing but what is stored", func(t *testing.T) {
		if err := auth.CheckAssertion(said(), content, nonce, site); err != nil {
			t.Error(err)
		}
	})
	for name, check := range map[string]func() error{
		"not for another content": func() error {
			return auth.CheckAssertion(said(), auth.ContentHash("test/1", "another run"), nonce, site)
		},
		"not in another form":  func() error { return auth.CheckAssertion(said(), content, nonce+"1", site) },
		"not for another site": func() error { return auth.CheckAssertion(said(), content, nonce, "other.example") },
		"not for no site":      func() error { return auth.CheckAssertion(said(), content, nonce, "") },
		"not with another key": func() error {
			a, _ := said(), 0
			_, other := registered(t)
			a.PublicKey = b64.EncodeToString(other.PublicKey)
			return auth.CheckAssertion(a, content, nonce, site)
		},
		"not without a key": func() error {
			a := said()
			a.PublicKey = ""
			return auth.CheckAssertion(a, content, nonce, site)
		},
		"not when the holder was not verified": func() error {
			d.Holder.Options.UserNotVerified = true
			defer func() { d.Holder.Options.UserNotVerified = false }()
			return auth.CheckAssertion(said(), content, nonce, site)
		},
		"not when nobody was there": func() error {
			d.Holder.Options.UserNotPresent = true
			defer func() { d.Holder.Options.UserNotPresent = false }()
			return auth.CheckAssertion(said(), content, nonce, site)
		},
		"not from another origin": func() error {
			d.Site.Origin = "https://evil.example"
			defer func() { d.Site.Origin = origin }()
			return auth.CheckAssertion(said(), content, nonce, site)
		},
		"not a registration in place of an answer": func() error {
			a := said()
			a.ClientData = b64.EncodeToString([]byte(strings.Replace(string(decoded(t, a.ClientData)), "webauthn.get", "webauthn.create", 1)))
			return auth.CheckAssertion(a, content, nonce, site)
		},
	} {
		t.Run(name, func(t *testing.T) {
			if check() == nil {
				t.Error("it passes")
			}
		})
	}
	t.Run("not when any byte of it was changed", func(t *testing.T) {
		right, tried := said(), 0
		for _, part := range []func(a *commissioning.Assertion) *string{
			func(a *commissioning.Assertion) *string { return &a.ClientData },
			func(a *commissioning.Assertion) *string { return &a.AuthenticatorData },
			func(a *commissioning.Assertion) *string { return &a.Signature },
		} {
			bytes := decoded(t, *part(&right))
			for i := range bytes {
				a := right
				bytes[i] ^= 1
				*part(&a) = b64.EncodeToString(bytes)
				bytes[i] ^= 1
				if tried++; auth.CheckAssertion(a, content, nonce, site) == nil {
					t.Errorf("byte %d passes changed", i)
				}
			}
		}
		t.Logf("%d bytes changed, each refused", tried)
	})
}

func decoded(t *testing.T, text string) []byte {
	t.Helper()
	raw, err := b64.DecodeString(text)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func TestReadAssertion(t *testing.T) {
	t.Run("takes nothing that is ours to say", func(t *testing.T) {
		a := auth.ReadAssertion(`{"credential":"AA","public_key":"BB","rp":"evil.example","nonce":"n"}`)
		if a.Credential != "AA" || a.PublicKey+a.RP+a.Nonce != "" {
			t.Errorf("got %+v", a)
		}
	})
	t.Run("what can't be read proves nothing", func(t *testing.T) {
		for _, text := range []string{"", "{", "[]", `{"more":1}`, strings.Repeat(" ", 9000)} {
			if a := auth.ReadAssertion(text); *a != (commissioning.Assertion{}) {
				t.Errorf("%q: got %+v", text, a)
			}
		}
	})
}

func TestRP(t *testing.T) {
	for host, want := range map[string]string{
		"Settle.Example": "settle.example", "settle.example:8443": "settle.example", "localhost:8080": "localhost",
		"127.0.0.1:8080": "", "[::1]:8080": "", "192.0.2.7": "", "": "", "a b": "",
	} {
		if got := auth.RP(host); got != want {
			t.Errorf("%q: got %q", host, got)
		}
	}
}
