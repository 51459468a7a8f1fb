package auth

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/hkdf"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
)

const secretLen = 32

// Secrets seals what must be read again (seeds) and peppers passwords, with a
// key that is kept in a file and never in the database: whoever has only the
// database can neither make codes nor try passwords.
type Secrets struct {
	id     string // names the key beside what it sealed
	pepper []byte
	aead   cipher.AEAD
}

// NewSecret makes the text of a key file.
func NewSecret() string {
	key := make([]byte, secretLen)
	_, _ = rand.Read(key) // never fails
	return base64.StdEncoding.EncodeToString(key) + "\n"
}

// ReadSecrets reads the text of a key file.
func ReadSecrets(text string) (*Secrets, error) {
	key, err := base64.StdEncoding.DecodeString(strings.TrimSpace(text))
	if err != nil || len(key) != secretLen {
		return nil, errors.New("the key file is not 32 bytes in base64")
	}
	parts := map[string][]byte{}
	for _, use := range []string{"id", "pepper", "seal"} {
		if parts[use], err = hkdf.Key(sha256.New, key, nil, "settlemark secrets/1 "+use, secretLen); err != nil {
			return nil, err
		}
	}
	block, err := aes.NewCipher(parts["seal"])
	if err != nil {
		return nil, err
	}
	aead, err := cipher.NewGCMWithRandomNonce(block)
	if err != nil {
		return nil, err
	}
	return &Secrets{id: hex.EncodeToString(parts["id"][:4]), pepper: parts["pepper"], aead: aead}, nil
}

// Seal hides a secret that belongs to an owner: it opens for that owner alone.
func (s *Secrets) Seal(secret []byte, owner string) []byte {
	return append([]byte(s.id), s.aead.Seal(nil, nil, secret, []byte(owner))...) //nolint:gosec // this kind makes its own random nonce
}

// Open gives back what Seal hid.
func (s *Secrets) Open(sealed []byte, owner string) ([]byte, error) {
	if len(sealed) < len(s.id) || string(sealed[:len(s.id)]) != s.id {
		return nil, fmt.Errorf("sealed with another key than that of the key file")
	}
	return s.aead.Open(nil, nil, sealed[len(s.id):], []byte(owner))
}

// peppered is the password as it goes into the hash.
func (s *Secrets) peppered(password string) string {
	mac := hmac.New(sha256.New, s.pepper)
	mac.Write([]byte(password))
	return string(mac.Sum(nil))
}
