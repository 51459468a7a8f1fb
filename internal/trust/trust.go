// Package trust holds the certificates by which a browser knows this server: the
// operator's own files, those of a small authority of the site's own, or those
// of a public authority by ACME. It must not know HTTP or what is served.
package trust

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"log/slog"
	"net"
	"time"
)

// Showing gives the certificate to show at a handshake.
type Showing func(*tls.ClientHelloInfo) (*tls.Certificate, error)

// Config is how connections are protected: TLS 1.3, or 1.2 with forward secrecy
// and authenticated encryption.
func Config(show Showing) *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS12,
		CipherSuites: []uint16{ // of 1.2; those of 1.3 can't be chosen
			tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256, tls.TLS_ECDHE_RSA_WITH_AES_128_GCM_SHA256,
			tls.TLS_ECDHE_ECDSA_WITH_AES_256_GCM_SHA384, tls.TLS_ECDHE_RSA_WITH_AES_256_GCM_SHA384,
			tls.TLS_ECDHE_ECDSA_WITH_CHACHA20_POLY1305_SHA256, tls.TLS_ECDHE_RSA_WITH_CHACHA20_POLY1305_SHA256,
		},
		NextProtos:     []string{"h2", "http/1.1"},
		GetCertificate: show,
	}
}

// Soon is how long before its end a certificate that nobody renews by itself is
// spoken of in the log.
const Soon = 30 * 24 * time.Hour

// fits says why browsers would refuse the certificate for the host, if they would.
func fits(c *x509.Certificate, host string, now time.Time) error {
	if now.Before(c.NotBefore) {
		return fmt.Errorf("it begins on %s", c.NotBefore.UTC().Format(time.DateOnly))
	}
	if now.After(c.NotAfter) {
		return fmt.Errorf("it ended on %s", c.NotAfter.UTC().Format(time.DateOnly))
	}
	return c.VerifyHostname(host)
}

// Watch says in the log when what show gives for the host nears its end.
func Watch(show Showing, host string, now time.Time, log *slog.Logger) {
	c, err := show(&tls.ClientHelloInfo{ServerName: host, CipherSuites: []uint16{tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256}})
	if err != nil {
		log.Error("there is no certificate for https", "host", host, "cause", err.Error())
		return
	}
	if end := c.Leaf.NotAfter; now.Add(Soon).After(end) {
		log.Warn("The certificate for https ends soon, or has ended, and was not renewed. See docs/install.md, HTTPS.", "host", host, "ends", end.UTC().Format(time.RFC3339))
	}
}

// named splits host names from addresses.
func named(hosts []string) (names []string, addresses []net.IP) {
	for _, host := range hosts {
		if ip := net.ParseIP(host); ip != nil {
			addresses = append(addresses, ip)
		} else {
			names = append(names, host)
		}
	}
	return names, addresses
}
