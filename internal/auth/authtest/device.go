// Package authtest is a person's device in software, which makes passkeys and
// answers with them. For tests only.
package authtest

import (
	"encoding/json"

	"github.com/descope/virtualwebauthn"

	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
)

// Secrets are those of a key file that nobody else has.
func Secrets() *auth.Secrets {
	s, err := auth.ReadSecrets(auth.NewSecret())
	if err != nil {
		panic(err)
	}
	return s
}

// Device holds one passkey for one site.
type Device struct {
	Site   virtualwebauthn.RelyingParty
	Holder virtualwebauthn.Authenticator
	key    virtualwebauthn.Credential
}

// New makes a device whose passkey is for the site.
func New(rp, origin string) *Device {
	key := virtualwebauthn.NewCredential(virtualwebauthn.KeyTypeEC2)
	for len(key.Key.AttestationData()) != publicKey {
		key = virtualwebauthn.NewCredential(virtualwebauthn.KeyTypeEC2)
	}
	return &Device{
		Site:   virtualwebauthn.RelyingParty{ID: rp, Name: "test", Origin: origin},
		Holder: virtualwebauthn.NewAuthenticator(), key: key,
	}
}

// publicKey is how long a COSE key of P-256 is. The library leaves out leading
// zeros of a coordinate, which nobody may (RFC 9053, section 7.1.1).
const publicKey = 77

// answer is what either ceremony gives in the library's form.
type answer struct {
	ID       string `json:"id"`
	Response struct {
		ClientData        string `json:"clientDataJSON"`
		Attestation       string `json:"attestationObject"`
		AuthenticatorData string `json:"authenticatorData"`
		Signature         string `json:"signature"`
	} `json:"response"`
}

func read(text string) answer {
	var a answer
	if err := json.Unmarshal([]byte(text), &a); err != nil {
		panic(err)
	}
	return a
}

// Makes gives what the page sends when the device made its passkey.
func (d *Device) Makes(challenge []byte) string {
	a := read(virtualwebauthn.CreateAttestationResponse(d.Site, d.Holder, d.key, virtualwebauthn.AttestationOptions{Challenge: challenge}))
	text, err := json.Marshal(map[string]string{"credential": a.ID, "client_data": a.Response.ClientData, "attestation": a.Response.Attestation})
	if err != nil {
		panic(err)
	}
	return string(text)
}

// Answers gives what the page sends when the device answered a challenge.
func (d *Device) Answers(challenge []byte) *commissioning.Assertion {
	a := read(virtualwebauthn.CreateAssertionResponse(d.Site, d.Holder, d.key, virtualwebauthn.AssertionOptions{Challenge: challenge}))
	return &commissioning.Assertion{
		Credential: a.ID, ClientData: a.Response.ClientData,
		AuthenticatorData: a.Response.AuthenticatorData, Signature: a.Response.Signature,
	}
}

// Counts sets how many signatures the device says it made.
func (d *Device) Counts(n uint32) { d.key.Counter = n }
