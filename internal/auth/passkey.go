package auth

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"net/netip"
	"net/url"
	"strings"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/protocol/webauthncose"

	"settlemark/internal/commissioning"
)

// Passkey is a credential of WebAuthn as it is stored: the private half never
// leaves the person's device.
type Passkey struct {
	ID        []byte
	PublicKey []byte // COSE
	RP        string // the host for which it was made; it works nowhere else
	Count     int64  // of the device's signatures, 0 when it does not count
}

// Algorithms that we ask a device for, the best first: EdDSA, ECDSA on P-256, RSA.
var Algorithms = []int{
	int(webauthncose.AlgEdDSA), int(webauthncose.AlgES256), int(webauthncose.AlgRS256),
}

var b64 = base64.RawURLEncoding

// RP gives the name under which passkeys of a host are kept; "" when the host is
// a bare address, for which browsers make none.
func RP(host string) string {
	u, err := url.Parse("//" + host)
	if err != nil {
		return ""
	}
	name := strings.ToLower(u.Hostname())
	if _, err := netip.ParseAddr(name); err == nil {
		return ""
	}
	return name
}

// SigningChallenge is what a passkey signs over a content, given by its hash:
// any change of the content, or another form, is another challenge.
func SigningChallenge(content []byte, nonce string) []byte {
	h := sha256.New()
	h.Write([]byte("sign/1\x00"))
	h.Write(content)
	h.Write([]byte(nonce))
	return h.Sum(nil)
}

// ContentHash names what is signed where it is no head of a run: a kind such as
// "withdraw/1" and its parts.
func ContentHash(kind string, parts ...string) []byte {
	sum := sha256.Sum256([]byte(kind + "\x00" + strings.Join(parts, "\x00")))
	return sum[:]
}

// Typed is the content of a form into which its signer also types: what the page
// showed by its hash, and then what was typed, so that another reason is another
// content. Where nothing was typed it is what the page showed. Spaces around a
// text and the way its lines end are no content; passkey.js does the same.
func Typed(shown []byte, typed ...string) []byte {
	if strings.Join(typed, "") == "" {
		return shown
	}
	h := sha256.New()
	h.Write([]byte("typed/1\x00"))
	h.Write(shown)
	for _, text := range typed {
		h.Write([]byte("\x00" + strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n"))))
	}
	return h.Sum(nil)
}

// CheckAssertion says whether the passkey whose public key stands in the
// assertion approved this content in this form on the site rp, after its holder
// was verified. It needs nothing but its arguments.
func CheckAssertion(a commissioning.Assertion, content []byte, nonce, rp string) error {
	return CheckAnswer(a, SigningChallenge(content, nonce), rp)
}

// CheckAnswer is CheckAssertion for a challenge that was drawn by chance, as at
// sign-in.
func CheckAnswer(a commissioning.Assertion, challenge []byte, rp string) error {
	key, err := b64.DecodeString(a.PublicKey)
	if err != nil || rp == "" {
		return errors.New("passkey: no public key or no site to check against")
	}
	said, err := parsed(a)
	if err != nil {
		return err
	}
	origin := said.Response.CollectedClientData.Origin
	if !ofSite(origin, rp) {
		return fmt.Errorf("passkey: made on %q, not on %s", origin, rp)
	}
	err = said.Verify(b64.EncodeToString(challenge), rp, "", []string{origin}, nil, nil,
		protocol.TopOriginExplicitVerificationMode, false, true, true, key, protocol.SignaturePolicy{})
	return explained(err)
}

// parsed gives the assertion in the library's form.
func parsed(a commissioning.Assertion) (*protocol.ParsedCredentialAssertionData, error) {
	answer, err := json.Marshal(map[string]any{
		"id": a.Credential, "rawId": a.Credential, "type": "public-key",
		"response": map[string]string{
			"clientDataJSON": a.ClientData, "authenticatorData": a.AuthenticatorData, "signature": a.Signature,
		},
	})
	if err != nil {
		return nil, err
	}
	said, err := protocol.ParseCredentialRequestResponseBytes(answer)
	return said, explained(err)
}

// ofSite holds an origin to the site: its host over https; over
// http only on the machine itself.
func ofSite(origin, rp string) bool {
	u, err := url.Parse(origin)
	if err != nil || u.Path != "" || u.User != nil {
		return false
	}
	host := u.Hostname()
	if host != rp {
		return false
	}
	return u.Scheme == "https" || u.Scheme == "http" && host == "localhost"
}

// Counter gives the count of signatures that the device put into its answer.
func Counter(a commissioning.Assertion) (int64, error) {
	said, err := parsed(a)
	if err != nil {
		return 0, err
	}
	return int64(said.Response.AuthenticatorData.Counter), nil
}

// mostAnswer is more than any device's answer needs.
const mostAnswer = 8 << 10

// ReadAssertion reads what the page's script put into the form. What can't be
// read is an assertion that proves nothing.
func ReadAssertion(text string) *commissioning.Assertion {
	var a commissioning.Assertion
	if strict(text, &a) != nil {
		return &commissioning.Assertion{}
	}
	a.PublicKey, a.RP, a.Nonce = "", "", "" // these are ours to say
	return &a
}

func strict(text string, into any) error {
	if len(text) > mostAnswer {
		return errors.New("passkey: the answer is too long")
	}
	d := json.NewDecoder(bytes.NewReader([]byte(text)))
	d.DisallowUnknownFields()
	return d.Decode(into)
}

// Registration is what a device says when it made a passkey, base64url.
type Registration struct {
	Credential  string `json:"credential"`
	ClientData  string `json:"client_data"`
	Attestation string `json:"attestation"`
}

// Register checks the registration against the challenge and the site and gives
// the passkey to store. The holder must have been verified.
func Register(text string, challenge []byte, rp string) (Passkey, error) {
	var r Registration
	if err := strict(text, &r); err != nil {
		return Passkey{}, err
	}
	answer, err := json.Marshal(map[string]any{
		"id": r.Credential, "rawId": r.Credential, "type": "public-key",
		"response": map[string]string{"clientDataJSON": r.ClientData, "attestationObject": r.Attestation},
	})
	if err != nil {
		return Passkey{}, err
	}
	made, err := protocol.ParseCredentialCreationResponseBytes(answer)
	if err != nil {
		return Passkey{}, explained(err)
	}
	origin := made.Response.CollectedClientData.Origin
	if !ofSite(origin, rp) {
		return Passkey{}, fmt.Errorf("passkey: made on %q, not on %s", origin, rp)
	}
	var accepted []protocol.CredentialParameter
	for _, a := range Algorithms {
		accepted = append(accepted, protocol.CredentialParameter{
			Type: protocol.PublicKeyCredentialType, Algorithm: webauthncose.COSEAlgorithmIdentifier(a),
		})
	}
	_, err = made.Verify(b64.EncodeToString(challenge), rp, []string{origin}, nil, nil,
		protocol.TopOriginExplicitVerificationMode, false, true, true, nil, accepted,
		protocol.AttestationPolicy{}, protocol.SignaturePolicy{})
	if err != nil {
		return Passkey{}, explained(err)
	}
	data := made.Response.AttestationObject.AuthData
	return Passkey{
		ID: data.AttData.CredentialID, PublicKey: data.AttData.CredentialPublicKey, RP: rp, Count: int64(data.Counter),
	}, nil
}

// explained adds what the library keeps beside its errors.
func explained(err error) error {
	var detailed *protocol.Error
	if errors.As(err, &detailed) {
		return fmt.Errorf("passkey: %s %s", detailed.Details, detailed.DevInfo)
	}
	return err
}
