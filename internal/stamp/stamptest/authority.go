// Package stamptest holds a time stamp authority for tests only.
package stamptest

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/asn1"
	"io"
	"math/big"
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"github.com/digitorus/timestamp"
)

// Authority is a time stamp authority of a test's own; the fields spoil it.
type Authority struct {
	Spoil     func(*timestamp.Timestamp)
	Answer    func(w http.ResponseWriter) // instead of a token
	Uncertain bool                        // its certificate is for time stamps, but not critically so
	Other     bool                        // its certificate is for other things too

	Certificate *x509.Certificate
	Asked       atomic.Int64 // questions so far

	t   testing.TB
	key *ecdsa.PrivateKey
}

// Serve gives its address; it ends with the test.
func (a *Authority) Serve(t testing.TB) string {
	t.Helper()
	a.t = t
	now := time.Now() //nolint:forbidigo // an authority has a clock of its own
	var err error
	if a.key, err = ecdsa.GenerateKey(elliptic.P256(), rand.Reader); err != nil {
		a.t.Fatal(err)
	}
	form := &x509.Certificate{
		SerialNumber: big.NewInt(7), Subject: pkix.Name{CommonName: "Clock of the test"}, KeyUsage: x509.KeyUsageDigitalSignature,
		NotBefore: now.Add(-time.Hour), NotAfter: now.Add(time.Hour),
	}
	usage := []asn1.ObjectIdentifier{{1, 3, 6, 1, 5, 5, 7, 3, 8}}
	if a.Other {
		usage = append(usage, asn1.ObjectIdentifier{1, 3, 6, 1, 5, 5, 7, 3, 4})
	}
	value, err := asn1.Marshal(usage)
	if err != nil {
		a.t.Fatal(err)
	}
	form.ExtraExtensions = []pkix.Extension{{Id: asn1.ObjectIdentifier{2, 5, 29, 37}, Critical: !a.Uncertain, Value: value}}
	der, err := x509.CreateCertificate(rand.Reader, form, form, a.key.Public(), a.key)
	if err != nil {
		a.t.Fatal(err)
	}
	if a.Certificate, err = x509.ParseCertificate(der); err != nil {
		a.t.Fatal(err)
	}
	s := httptest.NewServer(a)
	a.t.Cleanup(s.Close)
	return s.URL
}

// ServeHTTP answers one question.
func (a *Authority) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	a.Asked.Add(1)
	if a.Answer != nil {
		a.Answer(w)
		return
	}
	body, err := io.ReadAll(r.Body)
	if err != nil {
		a.t.Error(err)
	}
	asked, err := timestamp.ParseRequest(body)
	if err != nil || r.Header.Get("Content-Type") != "application/timestamp-query" {
		a.t.Errorf("asked with %v", err)
		return
	}
	now := time.Now() //nolint:forbidigo // an authority has a clock of its own
	token := timestamp.Timestamp{
		HashAlgorithm: asked.HashAlgorithm, HashedMessage: asked.HashedMessage, Nonce: asked.Nonce, Time: now,
		Policy: asn1.ObjectIdentifier{1, 2, 3, 4, 1}, AddTSACertificate: asked.Certificates,
	}
	if a.Spoil != nil {
		a.Spoil(&token)
	}
	answer, err := token.CreateResponseWithOpts(a.Certificate, a.key, crypto.SHA256)
	if err != nil {
		a.t.Error(err)
	}
	_, _ = w.Write(answer)
}
