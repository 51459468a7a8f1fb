package ledger

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"strconv"
	"strings"
)

// algorithms of C2SP signed-note keys that we know.
const (
	algorithmEd25519     = 1
	algorithmCosignature = 4
)

// splitKey reads a verifier key, name+hash+base64(algorithm, key).
func splitKey(vkey string) (name string, public []byte, err error) {
	name, rest, _ := strings.Cut(vkey, "+")
	hash, text, _ := strings.Cut(rest, "+")
	data, err := base64.StdEncoding.Strict().DecodeString(text)
	if err != nil || name == "" || len(data) != 1+ed25519.PublicKeySize {
		return "", nil, fmt.Errorf("%q is no verifier key", vkey)
	}
	if want := fmt.Sprintf("%08x", keyHash(name, data)); hash != want {
		return "", nil, fmt.Errorf("%q: the key hash is %s", vkey, want)
	}
	return name, data, nil
}

// keyHash is the short name of a key: data is its algorithm and public key.
func keyHash(name string, data []byte) uint32 {
	sum := sha256.Sum256(append([]byte(name+"\n"), data...))
	return binary.BigEndian.Uint32(sum[:])
}

// number reads a decimal without sign or leading zeros.
func number(text string) (int64, error) {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 0 || strconv.FormatInt(n, 10) != text {
		return 0, fmt.Errorf("%q is no plain number", text)
	}
	return n, nil
}
