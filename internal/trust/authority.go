package trust

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"settlemark/internal/durable"
)

const (
	authorityYears = 10
	leafDays       = 397 // the most that browsers take from anybody
	renewBefore    = 60 * 24 * time.Hour
	slack          = time.Hour // for devices whose clock is behind
)

// Authority vouches for this server, and can't for any other: the names it may
// speak for stand in its certificate.
type Authority struct {
	Certificate *x509.Certificate
	key         crypto.Signer
	hosts       []string // with those of the machine itself
}

// here is what a browser on the machine itself calls it.
var here = []string{"localhost", "127.0.0.1", "::1"}

// OpenAuthority reads the authority, and makes it when there is none. One that
// may not speak for all of the hosts is refused.
func OpenAuthority(path string, hosts []string, now time.Time) (a *Authority, made bool, err error) {
	hosts = slices.Concat(hosts, here)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		text, err := newAuthority(hosts, now)
		if err == nil {
			err = os.MkdirAll(filepath.Dir(path), 0o700)
		}
		if err == nil {
			err = durable.Write(path, text)
		}
		if err != nil {
			return nil, false, err
		}
		made = true
	}
	if a, err = ReadAuthority(path); err != nil {
		return nil, false, err
	}
	a.hosts = hosts
	if _, err := a.Issue(now); err != nil {
		return nil, false, fmt.Errorf("%s: %w", path, err)
	}
	return a, made, nil
}

// newAuthority gives key and certificate of a new one.
func newAuthority(hosts []string, now time.Time) ([]byte, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	names, addresses := named(hosts)
	form := &x509.Certificate{
		Subject:   pkix.Name{Organization: []string{"Settlemark"}, CommonName: "Settlemark at " + hosts[0]},
		NotBefore: now.Add(-slack), NotAfter: now.AddDate(authorityYears, 0, 0),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true,
		KeyUsage: x509.KeyUsageCertSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: names,
	}
	for _, ip := range addresses { // there are always some: a kind that is not named is not bound (RFC 5280, 4.2.1.10)
		form.PermittedIPRanges = append(form.PermittedIPRanges, alone(ip))
	}
	der, err := x509.CreateCertificate(rand.Reader, form, form, key.Public(), key)
	if err != nil {
		return nil, err
	}
	private, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	return append(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: private}),
		pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})...), nil
}

func alone(ip net.IP) *net.IPNet {
	if four := ip.To4(); four != nil {
		return &net.IPNet{IP: four, Mask: net.CIDRMask(32, 32)}
	}
	return &net.IPNet{IP: ip, Mask: net.CIDRMask(128, 128)}
}

// ReadAuthority reads the one that there is.
func ReadAuthority(path string) (*Authority, error) {
	pair, err := tls.LoadX509KeyPair(path, path)
	if err != nil {
		return nil, err
	}
	key, ok := pair.PrivateKey.(crypto.Signer)
	if !ok || !pair.Leaf.IsCA {
		return nil, fmt.Errorf("%s: it is no authority with its key", path)
	}
	return &Authority{Certificate: pair.Leaf, key: key}, nil
}

// Issue gives a new certificate for the hosts, with a key of its own, and checks
// it as a browser would.
func (a *Authority) Issue(now time.Time) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	names, addresses := named(a.hosts)
	begin := now.Add(-slack)
	form := &x509.Certificate{
		Subject: pkix.Name{CommonName: a.hosts[0]}, DNSNames: names, IPAddresses: addresses,
		NotBefore: begin, NotAfter: begin.AddDate(0, 0, leafDays),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true,
	}
	if form.NotAfter.After(a.Certificate.NotAfter) {
		form.NotAfter = a.Certificate.NotAfter
	}
	der, err := x509.CreateCertificate(rand.Reader, form, a.Certificate, key.Public(), a.key)
	if err != nil {
		return nil, err
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	roots := x509.NewCertPool()
	roots.AddCert(a.Certificate)
	if _, err := leaf.Verify(x509.VerifyOptions{Roots: roots, CurrentTime: now}); err != nil {
		return nil, err
	}
	return &tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key, Leaf: leaf}, nil
}

// Fingerprint is the SHA-256 of a certificate as people compare it.
func Fingerprint(c *x509.Certificate) string {
	sum := sha256.Sum256(c.Raw)
	return strings.ReplaceAll(fmt.Sprintf("% X", sum), " ", ":")
}

// PEM is the certificate as text; the key is not in it.
func (a *Authority) PEM() []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: a.Certificate.Raw})
}

// Hosts are the names and addresses that it is made for, without those of the
// machine itself.
func (a *Authority) Hosts() []string { return a.hosts[:len(a.hosts)-len(here)] }
