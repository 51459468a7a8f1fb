package certificate

import (
	"bytes"
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/rsa"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"time"

	"software.sslmate.com/src/go-pkcs12"
)

// Signer is the site's key with its certificate, by which finished files are
// signed.
type Signer struct {
	key   crypto.Signer
	chain []*x509.Certificate // its own first
}

// Signers are all that a site has: the first signs new releases, the others
// stay for releases that name them.
type Signers []*Signer

// By gives the signer of that fingerprint.
func (all Signers) By(fingerprint string) (*Signer, bool) {
	for _, s := range all {
		if s.Fingerprint() == fingerprint {
			return s, true
		}
	}
	return nil, false
}

// Current gives the fingerprint of the one that signs new releases, "" for none.
func (all Signers) Current() string {
	if len(all) == 0 {
		return ""
	}
	return all[0].Fingerprint()
}

// Why a key is refused.
var (
	ErrNoKey         = errors.New("there is no private key in it: export it with its key, as PKCS#12 or PEM")
	ErrNoCertificate = errors.New("there is no certificate in it: add the certificate to the key")
	ErrUnfit         = errors.New("the private key does not fit the certificate: export both from one place")
	ErrKind          = errors.New("the key is of a kind that PDF readers do not all take: use P-256, P-384 or RSA of 2048 bits or more")
	ErrNotForSigning = errors.New("the certificate is not meant for signatures: ask for one whose key usage has digital signature")
	ErrEncryptedPEM  = errors.New("the private key in it is encrypted: export it as PKCS#12, or decrypt it first")
	ErrPassword      = errors.New("the password is wrong")
	ErrDates         = errors.New("the certificate is not valid today")
)

const selfSignedYears = 10

// NewSigner makes a P-256 key with a certificate that it signs itself, in the
// name of the installation.
func NewSigner(name string, now time.Time) (*Signer, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("site key: %w", err)
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
	if err != nil {
		return nil, fmt.Errorf("site key: %w", err)
	}
	from := now.UTC().Truncate(time.Second).Add(-time.Minute) // clocks of readers differ
	form := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: name},
		NotBefore: from, NotAfter: from.AddDate(selfSignedYears, 0, 0),
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageContentCommitment, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, form, form, key.Public(), key)
	if err != nil {
		return nil, fmt.Errorf("site key: %w", err)
	}
	own, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, fmt.Errorf("site key: %w", err)
	}
	return newSigner(key, []*x509.Certificate{own})
}

// ReadSigner reads a private key and its certificates from PEM, in any order.
func ReadSigner(file []byte) (*Signer, error) {
	var key any
	var found []*x509.Certificate
	for block, rest := pem.Decode(file); block != nil; block, rest = pem.Decode(rest) {
		var err error
		switch block.Type {
		case "CERTIFICATE":
			var c *x509.Certificate
			if c, err = x509.ParseCertificate(block.Bytes); err == nil {
				found = append(found, c)
			}
		case "PRIVATE KEY":
			key, err = x509.ParsePKCS8PrivateKey(block.Bytes)
		case "EC PRIVATE KEY":
			key, err = x509.ParseECPrivateKey(block.Bytes)
		case "RSA PRIVATE KEY":
			key, err = x509.ParsePKCS1PrivateKey(block.Bytes)
		case "ENCRYPTED PRIVATE KEY":
			err = ErrEncryptedPEM
		}
		if err != nil {
			return nil, fmt.Errorf("site key: %w", err)
		}
	}
	return newSigner(key, found)
}

// ReadPKCS12 reads a private key and its certificates from a PKCS#12 file.
func ReadPKCS12(file []byte, password string) (*Signer, error) {
	key, own, others, err := pkcs12.DecodeChain(file, password)
	switch {
	case errors.Is(err, pkcs12.ErrIncorrectPassword):
		return nil, ErrPassword
	case err != nil:
		return nil, fmt.Errorf("site key: %w", err)
	}
	return newSigner(key, append([]*x509.Certificate{own}, others...))
}

// newSigner finds the certificate that fits the key and puts those that vouch
// for it behind it.
func newSigner(key any, found []*x509.Certificate) (*Signer, error) {
	if key == nil {
		return nil, ErrNoKey
	}
	if len(found) == 0 {
		return nil, ErrNoCertificate
	}
	s := &Signer{}
	switch k := key.(type) {
	case *ecdsa.PrivateKey:
		if k.Curve != elliptic.P256() && k.Curve != elliptic.P384() {
			return nil, ErrKind
		}
		s.key = k
	case *rsa.PrivateKey:
		if k.N.BitLen() < 2048 {
			return nil, ErrKind
		}
		s.key = k
	default:
		return nil, ErrKind
	}
	for _, c := range found {
		if public, ok := c.PublicKey.(interface{ Equal(crypto.PublicKey) bool }); ok && public.Equal(s.key.Public()) {
			s.chain = append(s.chain, c)
			break
		}
	}
	if len(s.chain) == 0 {
		return nil, ErrUnfit
	}
	if u := s.chain[0].KeyUsage; u != 0 && u&(x509.KeyUsageDigitalSignature|x509.KeyUsageContentCommitment) == 0 {
		return nil, ErrNotForSigning
	}
	s.chain = appendIssuers(s.chain, found)
	return s, nil
}

// appendIssuers orders the chain: each certificate behind the one it signed.
func appendIssuers(chain, found []*x509.Certificate) []*x509.Certificate {
	for last := chain[0]; !bytes.Equal(last.RawIssuer, last.RawSubject); last = chain[len(chain)-1] {
		before := len(chain)
		for _, c := range found {
			if bytes.Equal(c.RawSubject, last.RawIssuer) && last.CheckSignatureFrom(c) == nil {
				chain = append(chain, c)
				break
			}
		}
		if len(chain) == before || len(chain) > len(found) {
			break
		}
	}
	return chain
}

// ValidAt refuses a certificate before its first and after its last day.
func (s *Signer) ValidAt(now time.Time) error {
	if c := s.chain[0]; now.Before(c.NotBefore) || now.After(c.NotAfter) {
		return fmt.Errorf("%w: it is valid from %s to %s", ErrDates, c.NotBefore.Format(time.DateOnly), c.NotAfter.Format(time.DateOnly))
	}
	return nil
}

// Certificate gives what readers see of the signer.
func (s *Signer) Certificate() *x509.Certificate { return s.chain[0] }

// PEM writes the key and the chain as ReadSigner reads them.
func (s *Signer) PEM() ([]byte, error) {
	der, err := x509.MarshalPKCS8PrivateKey(s.key)
	if err != nil {
		return nil, fmt.Errorf("site key: %w", err)
	}
	out := pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der})
	for _, c := range s.chain {
		out = append(out, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: c.Raw})...)
	}
	return out, nil
}
