// Package stamp asks a time stamp authority (RFC 3161) to vouch that some bytes
// were there at an instant, and checks what it answers. Use Ask; keep the token
// it gives: anybody can check that later with the authority's certificate.
//
// It knows nothing of what is stamped, and neither the database nor the log. It
// does not say whether an authority is to be trusted: who set its address does.
package stamp

import (
	"bytes"
	"context"
	"crypto"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"encoding/asn1"
	"errors"
	"fmt"
	"io"
	"math/big"
	"net/http"
	"time"

	"github.com/digitorus/pkcs7"
	"github.com/digitorus/timestamp"
)

// Token is an authority's word.
type Token struct {
	DER       []byte    // the TimeStampToken
	At        time.Time // the instant that it names
	Authority string    // who signed it
}

const (
	patience   = 20 * time.Second
	mostAnswer = 64 << 10
	clocks     = 10 * time.Minute // how far our clock and the authority's may differ
)

// Ask lets the authority at the address stamp the data, now.
func Ask(ctx context.Context, address string, data []byte, now time.Time) (Token, error) {
	imprint := sha256.Sum256(data)
	nonce, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
	if err != nil {
		return Token{}, err
	}
	question, err := (&timestamp.Request{
		HashAlgorithm: crypto.SHA256, HashedMessage: imprint[:], Nonce: nonce, Certificates: true,
	}).Marshal()
	if err != nil {
		return Token{}, err
	}
	answer, err := post(ctx, address, question)
	if err != nil {
		return Token{}, fmt.Errorf("time stamp authority: %w", err)
	}
	token, err := check(answer, imprint[:], nonce)
	if err == nil && token.At.Sub(now).Abs() > clocks {
		err = fmt.Errorf("it says that it is %s, our clock %s", token.At.Format(time.RFC3339), now.UTC().Format(time.RFC3339))
	}
	if err != nil {
		return Token{}, fmt.Errorf("time stamp authority: its answer is no good: %w", err)
	}
	return token, nil
}

func post(ctx context.Context, address string, question []byte) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, address, bytes.NewReader(question))
	if err != nil {
		return nil, err
	}
	request.Header.Set("Content-Type", "application/timestamp-query")
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return nil, err
	}
	defer response.Body.Close() //nolint:errcheck // it was only read
	answer, err := io.ReadAll(io.LimitReader(response.Body, mostAnswer+1))
	switch {
	case err != nil:
		return nil, err
	case response.StatusCode != http.StatusOK:
		return nil, errors.New(response.Status)
	case len(answer) > mostAnswer:
		return nil, fmt.Errorf("more than %d bytes", mostAnswer)
	}
	return answer, nil
}

// check wants a granted token over this imprint, with this nonce, signed by a
// certificate that is for time stamps and nothing else (RFC 3161, 2.3 and 2.4.2).
func check(answer, imprint []byte, nonce *big.Int) (token Token, err error) {
	defer func() { // the library reads what an authority sends, and may be wrong about it
		if r := recover(); r != nil {
			err = fmt.Errorf("it can't be read: %v", r)
		}
	}()
	stamped, err := timestamp.ParseResponse(answer)
	if err != nil {
		return Token{}, err
	}
	if stamped.HashAlgorithm != crypto.SHA256 || !bytes.Equal(stamped.HashedMessage, imprint) {
		return Token{}, errors.New("it is over other bytes")
	}
	if stamped.Nonce == nil || stamped.Nonce.Cmp(nonce) != 0 {
		return Token{}, errors.New("it answers another question")
	}
	signed, err := pkcs7.Parse(stamped.RawToken)
	if err != nil {
		return Token{}, err
	}
	signer := signed.GetOnlySigner()
	if signer == nil || signed.Verify() != nil {
		return Token{}, errors.New("it is not signed by one certificate that comes with it")
	}
	if !forTimeStamps(signer) {
		return Token{}, errors.New("its certificate is not for time stamps only")
	}
	if stamped.Time.Before(signer.NotBefore) || stamped.Time.After(signer.NotAfter) {
		return Token{}, errors.New("its certificate was not valid at that instant")
	}
	return Token{DER: stamped.RawToken, At: stamped.Time.UTC(), Authority: signer.Subject.String()}, nil
}

var oidExtendedUsage = asn1.ObjectIdentifier{2, 5, 29, 37}

func forTimeStamps(c *x509.Certificate) bool {
	if len(c.ExtKeyUsage) != 1 || c.ExtKeyUsage[0] != x509.ExtKeyUsageTimeStamping || len(c.UnknownExtKeyUsage) > 0 {
		return false
	}
	for _, e := range c.Extensions {
		if e.Id.Equal(oidExtendedUsage) {
			return e.Critical
		}
	}
	return false
}
