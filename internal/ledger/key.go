package ledger

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// algorithmCosignature marks the key of a witness (C2SP tlog-cosignature); the
// keys of logs are those that package note knows.
const algorithmCosignature = 4

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

// VerifierKey gives the public half of a log's private key, both as signed-note
// writes them.
func VerifierKey(private string) (string, error) {
	if _, err := note.NewSigner(private); err != nil {
		return "", fmt.Errorf("log key: %w", err)
	}
	words := strings.SplitN(strings.TrimPrefix(private, privateKey), "+", 3)
	data, err := base64.StdEncoding.DecodeString(words[2])
	if err != nil {
		return "", fmt.Errorf("log key: %w", err)
	}
	public, _ := ed25519.NewKeyFromSeed(data[1:]).Public().(ed25519.PublicKey)
	return note.NewEd25519VerifierKey(words[0], public)
}
