// Package auth verifies proofs of identity: passwords, codes of an
// authenticator app, passkeys. It keeps nothing and asks no database; what is
// stored comes in, a yes or no goes out.
package auth

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"time"

	"golang.org/x/crypto/argon2"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// What a hash costs: the minimum that OWASP's password storage sheet names for
// argon2id (19 MiB, two passes, one lane).
const (
	memory  = 19 * 1024 // KiB
	passes  = 2
	lanes   = 1
	saltLen = 16
	keyLen  = 32
)

// queue bounds how long a sign-in waits for its turn.
const queue = 5 * time.Second

// Hasher makes and checks password hashes, two at a time: fifty at once would
// take gigabytes.
type Hasher struct {
	secrets *Secrets
	turns   chan struct{}
	dummy   string
}

// NewHasher makes a hasher; one is enough for a process.
func NewHasher(secrets *Secrets) *Hasher {
	return &Hasher{
		secrets: secrets, turns: make(chan struct{}, 2),
		dummy: encode(secrets.id, make([]byte, saltLen), make([]byte, keyLen)),
	}
}

// Hash gives the PHC string to store for a password that was found acceptable.
func (h *Hasher) Hash(ctx context.Context, password string) (string, error) {
	salt := make([]byte, saltLen)
	_, _ = rand.Read(salt) // never fails
	key, err := h.key(ctx, h.secrets.peppered(password), salt, params{memory: memory, passes: passes, lanes: lanes})
	if err != nil {
		return "", err
	}
	return encode(h.secrets.id, salt, key), nil
}

// Verify says whether the password belongs to the PHC string. An empty string
// (nobody has this login, or no password is set) takes the same work and is
// never right.
func (h *Hasher) Verify(ctx context.Context, phc, password string) (bool, error) {
	known := phc != ""
	if !known {
		phc = h.dummy
	}
	p, salt, want, err := decode(phc)
	if err != nil {
		return false, err
	}
	switch p.pepper {
	case "": // hashed before there was a key file
	case h.secrets.id:
		password = h.secrets.peppered(password)
	default:
		return false, errors.New("stored password hash: made with another key than that of the key file")
	}
	key, err := h.key(ctx, password, salt, p)
	if err != nil {
		return false, err
	}
	return subtle.ConstantTimeCompare(key, want) == 1 && known, nil
}

// Stale says whether the PHC string should be made anew from the password: it
// costs less than it should, or has no pepper.
func (h *Hasher) Stale(phc string) bool {
	p, _, _, err := decode(phc)
	return err == nil && p != params{memory, passes, lanes, h.secrets.id}
}

func (h *Hasher) key(ctx context.Context, password string, salt []byte, p params) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, queue)
	defer cancel()
	select {
	case h.turns <- struct{}{}:
		defer func() { <-h.turns }()
	case <-ctx.Done():
		return nil, &problem.Error{Kind: problem.Busy, Sentence: words.Say("Many people sign in just now. Try again in a moment."), Cause: ctx.Err()}
	}
	return argon2.IDKey([]byte(password), salt, p.passes, p.memory, p.lanes, keyLen), nil
}

type params struct {
	memory, passes uint32
	lanes          uint8
	pepper         string // names the key of the pepper; "" for none
}

const (
	layout  = "$argon2id$v=%d$m=%d,t=%d,p=%d"
	keyName = ",keyid="
)

func encode(pepper string, salt, key []byte) string {
	b64 := base64.RawStdEncoding
	return fmt.Sprintf(layout, argon2.Version, memory, passes, lanes) + keyName + pepper + "$" +
		b64.EncodeToString(salt) + "$" + b64.EncodeToString(key)
}

func decode(phc string) (p params, salt, key []byte, err error) {
	parts := strings.Split(phc, "$")
	if len(parts) != 6 {
		return p, nil, nil, fmt.Errorf("stored password hash: %d parts", len(parts))
	}
	var version int
	parts[3], p.pepper, _ = strings.Cut(parts[3], keyName)
	if _, err := fmt.Sscanf(strings.Join(parts[:4], "$"), layout, &version, &p.memory, &p.passes, &p.lanes); err != nil {
		return p, nil, nil, fmt.Errorf("stored password hash: %w", err)
	}
	if version != argon2.Version {
		return p, nil, nil, fmt.Errorf("stored password hash: version %d", version)
	}
	if salt, err = base64.RawStdEncoding.DecodeString(parts[4]); err != nil {
		return p, nil, nil, fmt.Errorf("stored password hash: salt: %w", err)
	}
	if key, err = base64.RawStdEncoding.DecodeString(parts[5]); err != nil || len(key) != keyLen {
		return p, nil, nil, fmt.Errorf("stored password hash: key of %d bytes", len(key))
	}
	return p, salt, key, nil
}
