// Package mailtest is a mail server on this machine, for tests.
package mailtest

import (
	"bufio"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"math/big"
	"net"
	"strings"
	"testing"
	"time"

	"settlemark/internal/mail"
)

// Desk takes letters, or says what it is told to say.
type Desk struct {
	t       *testing.T
	on      net.Listener
	config  *tls.Config    // nil: it does not know TLS
	Roots   *x509.CertPool // who vouches for it
	answers []string       // to each recipient in turn; taken when none is left
	Letters chan string
	Sealed  chan bool // whether each letter came over TLS
}

// Open starts one on this machine; the answers go to each recipient in turn.
func Open(t *testing.T, withTLS bool, answers ...string) *Desk {
	t.Helper()
	on, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	d := &Desk{t: t, on: on, answers: answers, Letters: make(chan string, 10), Sealed: make(chan bool, 10)}
	if withTLS {
		d.vouched()
	}
	t.Cleanup(func() { _ = on.Close() })
	go func() {
		for {
			c, err := on.Accept()
			if err != nil {
				return
			}
			d.serve(c)
		}
	}()
	return d
}

// vouched gives it a certificate of its own.
func (d *Desk) vouched() {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		d.t.Fatal(err)
	}
	of := x509.Certificate{
		SerialNumber: big.NewInt(1), NotBefore: time.Unix(0, 0), NotAfter: time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, &of, &of, &key.PublicKey, key)
	if err != nil {
		d.t.Fatal(err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		d.t.Fatal(err)
	}
	d.Roots = x509.NewCertPool()
	d.Roots.AddCert(cert)
	d.config = &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}, MinVersion: tls.VersionTLS12}
}

func (d *Desk) serve(c net.Conn) {
	defer func() { _ = c.Close() }()
	lines, sealed := bufio.NewReader(c), false
	say := func(text string) { _, _ = c.Write([]byte(text + "\r\n")) }
	say("220 desk")
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			return
		}
		verb, _, _ := strings.Cut(strings.ToUpper(strings.TrimSpace(line)), " ")
		switch verb {
		case "EHLO":
			if d.config != nil && !sealed {
				say("250-desk\r\n250 STARTTLS")
			} else {
				say("250 desk")
			}
		case "STARTTLS":
			say("220 go on")
			over := tls.Server(c, d.config)
			if over.Handshake() != nil {
				return
			}
			c, lines, sealed = over, bufio.NewReader(over), true
		case "RCPT":
			answer := "250 ok"
			if len(d.answers) > 0 {
				answer, d.answers = d.answers[0], d.answers[1:]
			}
			say(answer)
		case "DATA":
			say("354 go on")
			var letter strings.Builder
			for {
				line, err := lines.ReadString('\n')
				if err != nil {
					return
				}
				if line == ".\r\n" {
					break
				}
				letter.WriteString(line)
			}
			d.Letters <- letter.String()
			d.Sealed <- sealed
			say("250 taken")
		case "QUIT":
			say("221 bye")
			return
		default:
			say("250 ok")
		}
	}
}

// Close ends it before the test does.
func (d *Desk) Close() { _ = d.on.Close() }

// Server is how a sender reaches it.
func (d *Desk) Server() mail.Server {
	d.t.Helper()
	s, err := mail.Read("smtp://"+d.on.Addr().String(), "settlemark@plant.example", "")
	if err != nil {
		d.t.Fatal(err)
	}
	s.Roots = d.Roots
	return s
}
