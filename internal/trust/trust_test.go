package trust_test

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"settlemark/internal/trust"
)

var (
	today = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	hosts = []string{"settlemark.brackenhill.example", "192.0.2.7"}
)

func authority(t *testing.T, hosts ...string) *trust.Authority {
	t.Helper()
	a, _, err := trust.OpenAuthority(filepath.Join(t.TempDir(), "keys", "authority.pem"), hosts, today)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestAuthority(t *testing.T) {
	path := filepath.Join(t.TempDir(), "keys", "authority.pem")
	a, made, err := trust.OpenAuthority(path, hosts, today)
	if err != nil || !made {
		t.Fatal(made, err)
	}
	c := a.Certificate
	t.Run("is made once, for its owner's eyes", func(t *testing.T) {
		again, made, err := trust.OpenAuthority(path, hosts, today.AddDate(1, 0, 0))
		if err != nil || made || !again.Certificate.Equal(c) {
			t.Errorf("another one: %v, %v", made, err)
		}
		about, err := os.Stat(path)
		if err != nil || about.Mode().Perm() != 0o600 {
			t.Errorf("mode %v, %v", about.Mode(), err)
		}
		if bytes.Contains(a.PEM(), []byte("PRIVATE")) {
			t.Error("the key is given away")
		}
	})
	t.Run("lasts ten years and may make no further authority", func(t *testing.T) {
		if !c.NotAfter.Equal(today.AddDate(10, 0, 0)) || !c.IsCA || c.MaxPathLen != 0 || !c.MaxPathLenZero || !c.PermittedDNSDomainsCritical {
			t.Errorf("%v, %v, %d, %v", c.NotAfter, c.IsCA, c.MaxPathLen, c.PermittedDNSDomainsCritical)
		}
	})
	t.Run("vouches for its hosts and for the machine itself", func(t *testing.T) {
		leaf := issue(t, a, today)
		for _, host := range append(hosts, "localhost", "127.0.0.1", "::1") {
			if err := verify(a, leaf, host, today); err != nil {
				t.Errorf("%s: %v", host, err)
			}
		}
		if verify(a, leaf, "elsewhere.example", today) == nil {
			t.Error("it vouches for another host")
		}
		if life := leaf.NotAfter.Sub(leaf.NotBefore); life > 397*24*time.Hour {
			t.Errorf("lasts %s", life)
		}
	})
	t.Run("does not open for names it may not speak for", func(t *testing.T) {
		for _, other := range []string{"bank.example", "192.0.2.8", "2001:db8::1"} {
			if _, _, err := trust.OpenAuthority(path, []string{other}, today); err == nil || !strings.Contains(err.Error(), "constraint") && !strings.Contains(err.Error(), "permitted") {
				t.Errorf("%s: %v", other, err)
			}
		}
	})
	t.Run("one for names only may not speak for addresses", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "authority.pem")
		if _, _, err := trust.OpenAuthority(path, hosts[:1], today); err != nil {
			t.Fatal(err)
		}
		if _, _, err := trust.OpenAuthority(path, hosts, today); err == nil {
			t.Error("it does")
		}
	})
}

func issue(t *testing.T, a *trust.Authority, now time.Time) *x509.Certificate {
	t.Helper()
	c, err := a.Issue(now)
	if err != nil {
		t.Fatal(err)
	}
	return c.Leaf
}

func verify(a *trust.Authority, leaf *x509.Certificate, host string, now time.Time) error {
	roots := x509.NewCertPool()
	roots.AddCert(a.Certificate)
	_, err := leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: host, CurrentTime: now})
	return err
}

// Ten years by a clock that runs ahead, a day at a time.
func TestLocal(t *testing.T) {
	a, now, said := authority(t, hosts...), today, &bytes.Buffer{}
	l := trust.NewLocal(a, func() time.Time { return now }, slog.New(slog.NewTextHandler(said, nil)))
	different := map[string]bool{}
	for ; now.Before(a.Certificate.NotAfter); now = now.AddDate(0, 0, 1) {
		shown, err := l.Show(nil)
		if err != nil {
			t.Fatal(now, err)
		}
		different[shown.Leaf.SerialNumber.String()] = true
		if err := verify(a, shown.Leaf, hosts[0], now); err != nil {
			t.Fatal(now, err)
		}
		if left := shown.Leaf.NotAfter.Sub(now); left < 59*24*time.Hour && !shown.Leaf.NotAfter.Equal(a.Certificate.NotAfter) {
			t.Fatalf("%s: not renewed, %s left", now, left)
		}
	}
	if len(different) < 10 || len(different) > 12 { // 3652 days, a new one after 337
		t.Errorf("%d certificates in ten years", len(different))
	}
	if n := strings.Count(said.String(), "The authority of this site ends"); n != 1 {
		t.Errorf("said %d times that the authority ends: %s", n, said)
	}
}

func TestFiles(t *testing.T) {
	dir := t.TempDir()
	cert, key := filepath.Join(dir, "c.pem"), filepath.Join(dir, "k.pem")
	now, said := today, &bytes.Buffer{}
	first, second := authority(t, hosts[0]), authority(t, hosts[0])
	put := func(c, k *tls.Certificate) {
		t.Helper()
		write(t, cert, "CERTIFICATE", c.Certificate[0])
		der, err := x509.MarshalPKCS8PrivateKey(k.PrivateKey)
		if err != nil {
			t.Fatal(err)
		}
		write(t, key, "PRIVATE KEY", der)
	}
	one, two := must(first.Issue(now))(t), must(second.Issue(now))(t)
	put(one, one)
	f, err := trust.OpenFiles(cert, key, hosts[0], func() time.Time { return now }, slog.New(slog.NewTextHandler(said, nil)))
	if err != nil {
		t.Fatal(err)
	}
	shows := func(what string, want *tls.Certificate) {
		t.Helper()
		if got, err := f.Show(nil); err != nil || !got.Leaf.Equal(want.Leaf) {
			t.Errorf("%s: another certificate is shown, %v", what, err)
		}
	}
	shows("at first", one)
	put(two, one)
	shows("a certificate without its key", one)
	if n := strings.Count(said.String(), "the one before stays"); n != 1 {
		t.Errorf("said %d times: %s", n, said)
	}
	shows("the same again", one)
	if n := strings.Count(said.String(), "the one before stays"); n != 1 {
		t.Errorf("said %d times for one change", n)
	}
	put(two, two)
	shows("both files new", two)
	if err := os.Remove(cert); err != nil {
		t.Fatal(err)
	}
	shows("a file is away", two)
	other := must(authority(t, "elsewhere.example").Issue(now))(t)
	put(other, other)
	shows("a certificate of another host", two)
	now = now.AddDate(2, 0, 0)
	put(one, one)
	shows("a certificate that has ended", two)
	put(one, two)
	if _, err := trust.OpenFiles(cert, key, hosts[0], func() time.Time { return now }, slog.New(slog.DiscardHandler)); err == nil {
		t.Error("it opens with a key that does not fit")
	}
}

func must(c *tls.Certificate, err error) func(*testing.T) *tls.Certificate {
	return func(t *testing.T) *tls.Certificate {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
}

func write(t *testing.T, path, kind string, der []byte) {
	t.Helper()
	if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestConfig(t *testing.T) {
	a := authority(t, hosts...)
	c := trust.Config(trust.NewLocal(a, func() time.Time { return today }, slog.New(slog.DiscardHandler)).Show)
	roots := x509.NewCertPool()
	roots.AddCert(a.Certificate)
	for name, want := range map[string]struct {
		most  uint16
		suite uint16
		taken bool
	}{
		"1.1 is refused": {tls.VersionTLS11, 0, false},
		"1.2 is taken":   {tls.VersionTLS12, 0, true},
		"1.3 is taken":   {tls.VersionTLS13, 0, true},
		"1.2 without authenticated encryption is refused": {tls.VersionTLS12, tls.TLS_ECDHE_ECDSA_WITH_AES_128_CBC_SHA, false},
	} {
		t.Run(name, func(t *testing.T) {
			here, there := net.Pipe()
			defer here.Close()
			go func() { _ = tls.Server(there, c).Handshake(); _ = there.Close() }()
			asks := &tls.Config{RootCAs: roots, ServerName: hosts[0], MinVersion: tls.VersionTLS10, MaxVersion: want.most, NextProtos: []string{"h2"}, Time: func() time.Time { return today }}
			if want.suite != 0 {
				asks.CipherSuites = []uint16{want.suite}
			}
			conn := tls.Client(here, asks)
			err := conn.Handshake()
			if (err == nil) != want.taken {
				t.Errorf("%v", err)
			}
			if state := conn.ConnectionState(); err == nil && (state.Version != want.most || state.NegotiatedProtocol != "h2") {
				t.Errorf("%x, %q", state.Version, state.NegotiatedProtocol)
			}
		})
	}
}

func TestACME(t *testing.T) {
	m := trust.ACME(t.TempDir(), hosts[0])
	if err := m.HostPolicy(t.Context(), "elsewhere.example"); err == nil {
		t.Error("it would ask for a certificate of any host")
	}
	if err := m.HostPolicy(t.Context(), hosts[0]); err != nil {
		t.Error(err)
	}
}

func TestWatch(t *testing.T) {
	a, said := authority(t, hosts...), &bytes.Buffer{}
	only := must(a.Issue(today))(t)
	show := func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return only, nil }
	log := slog.New(slog.NewTextHandler(said, nil))
	trust.Watch(show, hosts[0], today.AddDate(1, 0, 0), log)
	if said.Len() > 0 {
		t.Errorf("too early: %s", said)
	}
	trust.Watch(show, hosts[0], today.AddDate(1, 0, 10), log)
	if !strings.Contains(said.String(), "ends soon") {
		t.Errorf("it said %q", said)
	}
}
