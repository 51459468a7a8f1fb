package commissioning

// Assertion is what a passkey says when its holder approves something: it signed
// a challenge that is made of the content and the nonce, after it had verified
// its holder. With the public key beside it anybody can check it later, without
// this site. All bytes are base64url without padding.
type Assertion struct {
	Credential        string `json:"credential"` // which passkey
	ClientData        string `json:"client_data"`
	AuthenticatorData string `json:"authenticator_data"`
	Signature         string `json:"signature"`
	PublicKey         string `json:"public_key,omitempty"` // COSE, as it was registered
	RP                string `json:"rp,omitempty"`         // host for which it was registered
	Nonce             string `json:"nonce,omitempty"`      // of the form
}
