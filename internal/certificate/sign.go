package certificate

import (
	"bytes"
	"crypto"
	"crypto/sha256"
	"crypto/x509"
	"encoding/hex"
	"fmt"

	"github.com/digitorus/pdf"
	"github.com/digitorus/pdfsign/sign"
)

// Fingerprint is the SHA-256 of the signer's certificate in hex. A Document
// names it, so that the site's log vouches for the certificate too.
func (s *Signer) Fingerprint() string { return fingerprint(s.chain[0]) }

// Sign adds the site's signature to a file that Render made, as an update
// behind its last byte: what Render wrote stays as it is. It certifies that
// nothing may be changed from then on. The instant of signing is the clock's,
// and no two signatures are alike, so a signed file is stored and never made
// again. The signing library meets files of ours only.
func (s *Signer) Sign(unsigned []byte) ([]byte, error) {
	reader, err := pdf.NewReader(bytes.NewReader(unsigned), int64(len(unsigned)))
	if err != nil {
		return nil, fmt.Errorf("signing: %w", err)
	}
	var out bytes.Buffer
	err = sign.Sign(bytes.NewReader(unsigned), &out, reader, int64(len(unsigned)), sign.SignData{
		Signature: sign.SignDataSignature{CertType: sign.CertificationSignature, DocMDPPerm: sign.DoNotAllowAnyChangesPerms},
		Signer:    s.key, DigestAlgorithm: crypto.SHA256,
		Certificate: s.chain[0], CertificateChains: [][]*x509.Certificate{s.chain},
	})
	if err != nil {
		return nil, fmt.Errorf("signing: %w", err)
	}
	return out.Bytes(), nil
}

// SignedBy gives the fingerprint of the certificate by which a file is signed,
// "" for a file that is not, and refuses a file that was altered afterwards.
// Whether that certificate is to be trusted is for the caller to say: a Document
// names it, and the log vouches for the Document.
func SignedBy(pdf []byte) (string, error) {
	f, err := part(pdf)
	if err != nil || f.seal == nil {
		return "", err
	}
	own, err := readCMS(f.seal.cms, f.seal.digest())
	if err != nil {
		return "", err
	}
	return fingerprint(own), nil
}

func fingerprint(c *x509.Certificate) string {
	sum := sha256.Sum256(c.Raw)
	return hex.EncodeToString(sum[:])
}

// signatureObject is the number that the signing library gives the signature in
// a file whose table has so many rows.
func signatureObject(rows int) int { return rows + 1 }
