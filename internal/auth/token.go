package auth

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"strings"
)

// tokenPrefix lets a person, and a scanner of secrets, see what it is.
const tokenPrefix = "settlemark_"

var tokenText = base32.NewEncoding("abcdefghijklmnopqrstuvwxyz234567").WithPadding(base32.NoPadding)

// NewToken makes the token of a gateway, settlemark_ID_SECRET, of 40 random bits
// and 256: the id is kept to name it by, of the whole only TokenHash.
func NewToken() (id, token string) {
	var name [5]byte
	var secret [32]byte
	_, _ = rand.Read(name[:]) // never fails
	_, _ = rand.Read(secret[:])
	id = tokenText.EncodeToString(name[:])
	return id, tokenPrefix + id + "_" + tokenText.EncodeToString(secret[:])
}

// TokenHash is what is stored of a token. Its secret can't be guessed, so it
// needs no slow hash.
func TokenHash(token string) []byte {
	sum := sha256.Sum256([]byte("token/1\x00" + strings.TrimSpace(token)))
	return sum[:]
}
