package auth

import (
	"crypto/sha1"
	"crypto/sha256"
	"crypto/sha512"
	"hash"
)

// Occupy takes both turns for good.
func (h *Hasher) Occupy() {
	h.turns <- struct{}{}
	h.turns <- struct{}{}
}

// TOTP gives codes with any hash of RFC 6238.
func TOTP(name string, seed []byte, step int64, digits int) string {
	return totp(map[string]func() hash.Hash{"SHA1": sha1.New, "SHA256": sha256.New, "SHA512": sha512.New}[name], seed, step, digits)
}
