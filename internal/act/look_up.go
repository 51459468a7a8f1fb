package act

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"regexp"
	"strings"
	"time"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// A code is the certificate's number and ten hexadecimal digits.
var codeForm = regexp.MustCompile(`^(C-\d{4,9})-?([0-9A-F]{10})$`)

// LookUp gives the certificate of the code that is printed on it. Anybody may
// ask, but not often: TooMany says how long to wait. NotFound when there is none,
// Invalid when it is not written as a code.
func (a *Acts) LookUp(ctx context.Context, code, address string, now time.Time) (commissioning.Certificate, error) {
	spaceless := strings.ToUpper(strings.Join(strings.Fields(code), "-"))
	parts := codeForm.FindStringSubmatch(joinDigits(spaceless))
	if parts == nil {
		return commissioning.Certificate{}, problem.On("code", "Type the code as it is printed, for example C-0042 1a2b3 c4d5e.")
	}
	if err := a.MayLookUp(ctx, address, now); err != nil {
		return commissioning.Certificate{}, err
	}
	return a.db.CertificateByCode(ctx, commissioning.CertificateNumber(parts[1]), strings.ToLower(parts[2]))
}

// MayLookUp counts a look-up from an address, by code or by file, and is Busy
// when there were too many.
func (a *Acts) MayLookUp(ctx context.Context, address string, now time.Time) error {
	var wait time.Duration
	err := a.db.InTx(ctx, func(tx *db.Tx) (err error) {
		wait, err = tx.TryAddress(ctx, "look-up "+address, auth.AddressTries, auth.AddressWindow, moment(now))
		return err
	})
	if err == nil && wait > 0 {
		return tooMany(words.Say("Too many look-ups."), wait)
	}
	return err
}

// LookUpRecord gives the certificate whose record has this SHA-256, for who
// holds its file. NotFound when there is none; the look-up was counted before.
func (a *Acts) LookUpRecord(ctx context.Context, number, digest string) (commissioning.Certificate, error) {
	if len(digest) != hex.EncodedLen(sha256.Size) {
		return commissioning.Certificate{}, problem.New(problem.NotFound, "There is no such certificate.")
	}
	return a.db.CertificateByCode(ctx, commissioning.CertificateNumber(number), digest)
}

// joinDigits takes the gap out of the ten digits: C-0042-1A2B3-C4D5E.
func joinDigits(code string) string {
	if i := strings.LastIndex(code, "-"); i > len("C-0000") {
		return code[:i] + code[i+1:]
	}
	return code
}
