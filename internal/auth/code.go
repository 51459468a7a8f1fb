package auth

import (
	"crypto/rand"
	"crypto/sha256"
	"strings"
)

// alphabet leaves out what is easily misread: 0 O, 1 I L, 2 Z, 5 S, 8 B, U V.
const alphabet = "ACDEFGHJKMNPQRTWXY34679"

// codeLen characters of 23 give 90 bits.
const codeLen = 20

// NewCode makes a one-time code to be read out or typed, in groups of five.
// Store CodeHash of it, never the code.
func NewCode() string {
	code := make([]byte, 0, codeLen+codeLen/5)
	for len(code) < cap(code)-1 {
		if len(code)%6 == 5 {
			code = append(code, '-')
		}
		code = append(code, alphabet[sign()])
	}
	return string(code)
}

// sign draws one place of the alphabet, each as likely as the other.
func sign() int {
	var b [1]byte
	for {
		_, _ = rand.Read(b[:]) // never fails
		if n := int(b[0]); n < 256/len(alphabet)*len(alphabet) {
			return n % len(alphabet)
		}
	}
}

// CodeHash is what is stored of a code; case, spaces and hyphens do not matter.
func CodeHash(code string) []byte {
	plain := strings.NewReplacer("-", "", " ", "").Replace(strings.ToUpper(strings.TrimSpace(code)))
	sum := sha256.Sum256([]byte("one-time-code/1\x00" + plain))
	return sum[:]
}
