package act

import (
	"encoding/hex"

	"settlemark/internal/auth"
	"settlemark/internal/certificate"
)

// CheckPasskey says whether the passkey of a signature approved the head that
// the signature names, and the reason that was typed with it. It needs nothing but the certificate.
func CheckPasskey(s certificate.Signature, reason string) error {
	head, err := hex.DecodeString(s.Head)
	if err != nil {
		return err
	}
	return auth.CheckAssertion(*s.Passkey, auth.Typed(head, reason), s.Passkey.Nonce, s.Passkey.RP)
}
