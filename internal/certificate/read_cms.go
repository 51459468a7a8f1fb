package certificate

import (
	"bytes"
	"crypto"
	"crypto/ecdsa"
	"crypto/rsa"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/asn1"
	"errors"
	"fmt"
	"math/big"
)

// The one shape of CMS that Sign writes (RFC 5652): SHA-256, a detached
// content, one signer with signed attributes and nothing unsigned. It is read
// by writing it again: bytes that do not come back the same are refused.
type (
	cmsOuter struct {
		Type    asn1.ObjectIdentifier
		Content cmsSigned `asn1:"explicit,tag:0"`
	}
	cmsSigned struct {
		Version      int
		Digests      []pkix.AlgorithmIdentifier `asn1:"set"`
		Content      struct{ Type asn1.ObjectIdentifier }
		Certificates asn1.RawValue
		Signers      []cmsSigner `asn1:"set"`
	}
	cmsSigner struct {
		Version int
		Issuer  struct {
			Name   asn1.RawValue
			Serial *big.Int
		}
		Digest     pkix.AlgorithmIdentifier
		Attributes asn1.RawValue
		Algorithm  pkix.AlgorithmIdentifier
		Signature  []byte
	}
	cmsAttribute struct {
		Type   asn1.ObjectIdentifier
		Values asn1.RawValue
	}
)

var (
	oidSignedData    = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 7, 2}
	oidData          = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 7, 1}
	oidSHA256        = asn1.ObjectIdentifier{2, 16, 840, 1, 101, 3, 4, 2, 1}
	oidContentType   = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 3}
	oidMessageDigest = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 4}
	oidRSAWithSHA256 = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 1, 11}
	oidECDSASHA256   = asn1.ObjectIdentifier{1, 2, 840, 10045, 4, 3, 2}
)

var (
	errCMS     = errors.New("the signature is not in the form that the site's key gives")
	errDigest  = errors.New("the signature was made over other bytes")
	errNotByIt = errors.New("the signature was not made by the key that it names")
)

// readCMS checks a signature over a SHA-256 and gives the signer's certificate.
// Whether that is the right one is for the caller to say.
func readCMS(der, digest []byte) (*x509.Certificate, error) {
	var outer cmsOuter
	rest, err := asn1.Unmarshal(der, &outer)
	if err != nil || len(rest) > 0 || !outer.ours() {
		return nil, errCMS
	}
	if again, err := asn1.Marshal(outer); err != nil || !bytes.Equal(again, der) {
		return nil, errCMS
	}
	signer := outer.Content.Signers[0]
	if err := signer.speaksOf(digest); err != nil {
		return nil, err
	}
	chain, err := x509.ParseCertificates(outer.Content.Certificates.Bytes)
	if err != nil || len(chain) == 0 {
		return nil, errCMS
	}
	own := chain[0]
	if !bytes.Equal(own.RawIssuer, signer.Issuer.Name.FullBytes) || own.SerialNumber.Cmp(signer.Issuer.Serial) != 0 {
		return nil, errNotByIt
	}
	for i, c := range chain[1:] {
		if err := chain[i].CheckSignatureFrom(c); err != nil {
			return nil, fmt.Errorf("certificates beside the signature: %w", err)
		}
	}
	return own, signer.checkedBy(own)
}

// ours says whether everything that no signature covers is as Sign writes it.
func (o cmsOuter) ours() bool {
	c := o.Content
	if !o.Type.Equal(oidSignedData) || c.Version != 1 || !c.Content.Type.Equal(oidData) ||
		len(c.Digests) != 1 || !sha256Only(c.Digests[0]) || len(c.Signers) != 1 || !tagged(c.Certificates) {
		return false
	}
	s := c.Signers[0]
	return s.Version == 1 && sha256Only(s.Digest) && tagged(s.Attributes) && s.Issuer.Serial != nil && len(s.Algorithm.Parameters.FullBytes) == 0
}

func sha256Only(a pkix.AlgorithmIdentifier) bool {
	return a.Algorithm.Equal(oidSHA256) && len(a.Parameters.FullBytes) == 0
}

// tagged is a constructed value under [0].
func tagged(v asn1.RawValue) bool {
	return v.Class == asn1.ClassContextSpecific && v.Tag == 0 && v.IsCompound
}

// speaksOf wants the signed attributes to name this digest, once.
func (s cmsSigner) speaksOf(digest []byte) error {
	named := 0
	for rest := s.Attributes.Bytes; len(rest) > 0; {
		var a cmsAttribute
		var err error
		if rest, err = asn1.Unmarshal(rest, &a); err != nil {
			return errCMS
		}
		switch {
		case a.Type.Equal(oidContentType):
			var of asn1.ObjectIdentifier
			if more, err := asn1.Unmarshal(a.Values.Bytes, &of); err != nil || len(more) > 0 || !of.Equal(oidData) {
				return errCMS
			}
		case a.Type.Equal(oidMessageDigest):
			var is []byte
			if more, err := asn1.Unmarshal(a.Values.Bytes, &is); err != nil || len(more) > 0 {
				return errCMS
			}
			if !bytes.Equal(is, digest) {
				return errDigest
			}
			named++
		}
	}
	if named != 1 {
		return errCMS
	}
	return nil
}

// checkedBy checks the signature over the attributes, which are signed as the
// SET that they are (RFC 5652 section 5.4).
func (s cmsSigner) checkedBy(own *x509.Certificate) error {
	set := bytes.Clone(s.Attributes.FullBytes)
	set[0] = 0x31
	var by x509.SignatureAlgorithm
	switch own.PublicKey.(type) {
	case *ecdsa.PublicKey:
		if s.Algorithm.Algorithm.Equal(oidECDSASHA256) {
			by = x509.ECDSAWithSHA256
		}
	case *rsa.PublicKey:
		if s.Algorithm.Algorithm.Equal(oidRSAWithSHA256) {
			by = x509.SHA256WithRSA
		}
	}
	if by == x509.UnknownSignatureAlgorithm {
		return errCMS
	}
	if err := own.CheckSignature(by, set, s.Signature); err != nil {
		return errNotByIt
	}
	return nil
}

// digest is the SHA-256 of all that the seal covers.
func (s *seal) digest() []byte {
	h := crypto.SHA256.New()
	h.Write(s.before)
	h.Write(s.after)
	return h.Sum(nil)
}
