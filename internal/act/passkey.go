package act

import (
	"encoding/hex"

	"settlemark/internal/auth"
	"settlemark/internal/certificate"
)

// CheckPasskey says whether the passkey of a signature approved the head that
// the signature names. It needs nothing but the certificate.
func CheckPasskey(s certificate.Signature) error {
	head, err := hex.DecodeString(s.Head)
	if err != nil {
		return err
	}
	return auth.CheckAssertion(*s.Passkey, head, s.Passkey.Nonce, s.Passkey.RP)
}
