package certificate_test

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/rsa"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"strings"
	"testing"
	"time"

	"settlemark/internal/certificate"
)

// authority issues certificates as a company's own would.
type authority struct {
	t    *testing.T
	key  crypto.Signer
	cert *x509.Certificate
}

func (a authority) issue(name string, public crypto.PublicKey, isCA bool, by crypto.Signer) *x509.Certificate {
	a.t.Helper()
	form := &x509.Certificate{
		SerialNumber: big.NewInt(time.Now().UnixNano()), Subject: pkix.Name{CommonName: name, Organization: []string{"Grüne Früchte (Übersee) \\ Söhne"}},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().AddDate(1, 0, 0), KeyUsage: x509.KeyUsageDigitalSignature,
		IsCA: isCA, BasicConstraintsValid: true,
	}
	if isCA {
		form.KeyUsage = x509.KeyUsageCertSign
	}
	parent := a.cert
	if parent == nil {
		parent = form
	}
	der, err := x509.CreateCertificate(rand.Reader, form, parent, public, by)
	if err != nil {
		a.t.Fatal(err)
	}
	c, err := x509.ParseCertificate(der)
	if err != nil {
		a.t.Fatal(err)
	}
	return c
}

func chainOf(t *testing.T, key crypto.Signer) []byte {
	t.Helper()
	rootKey, err := rsa.GenerateKey(rand.Reader, 3072)
	if err != nil {
		t.Fatal(err)
	}
	root := authority{t: t, key: rootKey}
	root.cert = root.issue("Root", rootKey.Public(), true, rootKey)
	middleKey, err := ecdsa.GenerateKey(elliptic.P384(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	middle := authority{t, middleKey, root.issue("Middle", middleKey.Public(), true, rootKey)}
	own := middle.issue("Ashdown works", key.Public(), false, middleKey)
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	var file []byte
	for _, c := range []*x509.Certificate{root.cert, own, middle.cert} { // in no order
		file = append(file, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: c.Raw})...)
	}
	return append(file, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der})...)
}

func TestEveryKindOfKeySigns(t *testing.T) {
	in, photos := plain(t)
	for name, make := range map[string]func() (crypto.Signer, error){
		"P-256":    func() (crypto.Signer, error) { return ecdsa.GenerateKey(elliptic.P256(), rand.Reader) },
		"P-384":    func() (crypto.Signer, error) { return ecdsa.GenerateKey(elliptic.P384(), rand.Reader) },
		"RSA 2048": func() (crypto.Signer, error) { return rsa.GenerateKey(rand.Reader, 2048) },
		"RSA 4096": func() (crypto.Signer, error) { return rsa.GenerateKey(rand.Reader, 4096) },
	} {
		t.Run(name+" behind an authority of its own", func(t *testing.T) {
			key, err := make()
			if err != nil {
				t.Fatal(err)
			}
			signer, err := certificate.ReadSigner(chainOf(t, key))
			if err != nil {
				t.Fatal(err)
			}
			in.Signer = signer.Fingerprint()
			unsigned, doc := render(t, in, photos)
			pdf, err := signer.Sign(unsigned)
			if err != nil {
				t.Fatal(err)
			}
			if by, err := certificate.SignedBy(pdf); err != nil || by != doc.Signer {
				t.Errorf("signed by %s, %v", by, err)
			}
			if said := pdfsig(t, pdf); !strings.Contains(said, "Signature is Valid") || !strings.Contains(said, "Total document signed") {
				t.Error(said)
			}
		})
	}
}

func TestSignerComesBackFromItsFile(t *testing.T) {
	file, err := siteSigner.PEM()
	if err != nil {
		t.Fatal(err)
	}
	again, err := certificate.ReadSigner(file)
	if err != nil || again.Fingerprint() != siteSigner.Fingerprint() {
		t.Errorf("%v", err)
	}
}
