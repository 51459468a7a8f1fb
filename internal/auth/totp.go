package auth

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha1" //nolint:gosec // RFC 6238's default, which every authenticator app speaks; HMAC does not rest on collisions
	"crypto/subtle"
	"encoding/base32"
	"encoding/binary"
	"fmt"
	"hash"
	"net/url"
	"strings"
	"time"
)

// Codes are RFC 6238's, as authenticator apps make them: HMAC-SHA-1, 30 s, six
// digits. A code is good one step early and one late, for clocks that differ,
// and once only: whoever accepts it keeps its step and takes later ones only.
const (
	stepSeconds = 30
	codeDigits  = 6
	skew        = 1
	seedLen     = 20 // as long as the hash, RFC 4226 section 4
)

// NewSeed makes the secret that a person's app and we share.
func NewSeed() []byte {
	seed := make([]byte, seedLen)
	_, _ = rand.Read(seed) // never fails
	return seed
}

// Step is the number of the 30 s step of an instant.
func Step(at time.Time) int64 { return at.Unix() / stepSeconds }

// CodeAt gives the code of a step.
func CodeAt(seed []byte, step int64) string { return totp(sha1.New, seed, step, codeDigits) }

func totp(h func() hash.Hash, seed []byte, step int64, digits int) string {
	mac := hmac.New(h, seed)
	_ = binary.Write(mac, binary.BigEndian, step)
	sum := mac.Sum(nil)
	at := sum[len(sum)-1] & 15
	n := uint64(binary.BigEndian.Uint32(sum[at:]) & 0x7fffffff)
	most := uint64(1)
	for range digits {
		most *= 10
	}
	return fmt.Sprintf("%0*d", digits, n%most)
}

// Match gives the step whose code this is, now or one step to either side. The
// caller must see that the step is later than the last one used.
func Match(seed []byte, code string, now time.Time) (step int64, right bool) {
	code = Digits(code)
	for s := Step(now) - skew; s <= Step(now)+skew; s++ {
		if subtle.ConstantTimeCompare([]byte(CodeAt(seed, s)), []byte(code)) == 1 {
			step, right = s, true
		}
	}
	return step, right
}

// Digits takes the spaces out of a code as it is read out or typed.
func Digits(code string) string { return strings.Join(strings.Fields(code), "") }

// SeedText is the seed as people type it into an app that can't read the picture.
func SeedText(seed []byte) string { return base32.StdEncoding.EncodeToString(seed) }

// SeedURL is what the QR picture says to an authenticator app.
func SeedURL(seed []byte, login string) string {
	return "otpauth://totp/Settlemark:" + url.PathEscape(login) + "?issuer=Settlemark&secret=" + SeedText(seed)
}
