package main

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/rsa"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"io/fs"
	"log/slog"
	"math/big"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/note"
	"software.sslmate.com/src/go-pkcs12"

	"settlemark/internal/certificate"
)

// issued is a certificate of today with its key, from an authority or by itself.
func issued(t *testing.T, key any, public any, from time.Time, usage x509.KeyUsage) *x509.Certificate {
	t.Helper()
	form := &x509.Certificate{
		SerialNumber: big.NewInt(from.UnixNano()), Subject: pkix.Name{CommonName: "Ashdown works"},
		NotBefore: from, NotAfter: from.AddDate(1, 0, 0), KeyUsage: usage,
	}
	der, err := x509.CreateCertificate(rand.Reader, form, form, public, key)
	must(t, err)
	c, err := x509.ParseCertificate(der)
	must(t, err)
	return c
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func block(t *testing.T, kind string, der []byte, err error) []byte {
	t.Helper()
	must(t, err)
	return pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der})
}

func typed(t *testing.T, stdin string, args ...string) (status int, said string) {
	t.Helper()
	var out bytes.Buffer
	status = run(context.Background(), args, strings.NewReader(stdin), &out, &out)
	return status, out.String()
}

func TestKeys(t *testing.T) {
	now := time.Now()
	data := t.TempDir()
	t.Setenv("SETTLEMARK_DATA", data)
	t.Setenv("SETTLEMARK_SITE_KEY", "")
	c, err := readConfig(os.Getenv)
	must(t, err)
	var first string

	t.Run("a new installation gets a key that only its owner reads", func(t *testing.T) {
		signers, err := openSiteKeys(c, slog.New(slog.DiscardHandler), now)
		must(t, err)
		first = signers.Current()
		info, err := os.Stat(filepath.Join(data, "keys", "site.pem"))
		must(t, err)
		folder, err := os.Stat(filepath.Join(data, "keys"))
		must(t, err)
		if info.Mode().Perm() != 0o600 || folder.Mode().Perm() != 0o700 {
			t.Errorf("the key has the rights %v, its folder %v", info.Mode(), folder.Mode())
		}
	})
	t.Run("it stays the same from then on", func(t *testing.T) {
		signers, err := openSiteKeys(c, slog.New(slog.DiscardHandler), now)
		must(t, err)
		if len(signers) != 1 || signers.Current() != first {
			t.Errorf("got %d keys, now %s", len(signers), signers.Current())
		}
	})
	t.Run("show names it and how long it lasts", func(t *testing.T) {
		status, said := typed(t, "", "keys", "show")
		if status != 0 || !strings.Contains(said, first) || !strings.Contains(said, "days left") || !strings.Contains(said, "issued by itself") {
			t.Errorf("status %d\n%s", status, said)
		}
	})
	t.Run("show names the log's public key and never a private one", func(t *testing.T) {
		private, public, err := note.GenerateKey(nil, "ashdown.example/1")
		must(t, err)
		must(t, os.WriteFile(c.log.Key, []byte(private+"\n"), 0o600))
		if status, said := typed(t, "", "keys", "show"); status != 0 || !strings.Contains(said, public) || strings.Contains(said, "PRIVATE") {
			t.Errorf("status %d\n%s", status, said)
		}
	})
	t.Run("a file that SETTLEMARK_SITE_KEY names is never made up", func(t *testing.T) {
		other := c
		other.siteKey = filepath.Join(t.TempDir(), "absent.pem")
		if _, err := openSiteKeys(other, slog.New(slog.DiscardHandler), now); err == nil {
			t.Error("opened")
		}
		if _, err := os.Stat(other.siteKey); err == nil {
			t.Error("made")
		}
	})
	importing(t, c, first)
}

// importing takes in keys as they come and keeps those of before.
func importing(t *testing.T, c config, first string) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	must(t, err)
	rsaKey, err := rsa.GenerateKey(rand.Reader, 2048)
	must(t, err)
	sign := x509.KeyUsageDigitalSignature
	own, rsaOwn := issued(t, key, key.Public(), time.Now().Add(-time.Hour), sign), issued(t, rsaKey, rsaKey.Public(), time.Now().Add(-time.Hour), sign)
	protected, err := pkcs12.Modern.Encode(rsaKey, rsaOwn, nil, "apricot")
	must(t, err)
	p12 := filepath.Join(t.TempDir(), "site.p12")
	must(t, os.WriteFile(p12, protected, 0o600))

	t.Run("import refuses a wrong password", func(t *testing.T) {
		if status, said := typed(t, "plum\n", "keys", "import", p12); status != 1 || !strings.Contains(said, "the password is wrong") {
			t.Errorf("status %d: %s", status, said)
		}
	})
	t.Run("import takes PKCS#12 with its password", func(t *testing.T) {
		if status, said := typed(t, "apricot\n", "keys", "import", p12); status != 0 || !strings.Contains(said, "Ashdown works") {
			t.Errorf("status %d: %s", status, said)
		}
	})
	t.Run("import takes PEM, and keys of before stay by their fingerprint", func(t *testing.T) {
		der, err := x509.MarshalECPrivateKey(key)
		file := filepath.Join(t.TempDir(), "site.pem")
		must(t, os.WriteFile(file, append(block(t, "CERTIFICATE", own.Raw, nil), block(t, "EC PRIVATE KEY", der, err)...), 0o600))
		if status, said := typed(t, "", "keys", "import", file); status != 0 {
			t.Errorf("status %d: %s", status, said)
		}
		signers, err := openSiteKeys(c, slog.New(slog.DiscardHandler), time.Now())
		must(t, err)
		if _, kept := signers.By(first); len(signers) != 3 || signers.Current() == first || !kept {
			t.Errorf("got %d keys, the first one kept: %v", len(signers), kept)
		}
		if status, said := typed(t, "", "keys", "import", file); status != 1 || !strings.Contains(said, "signs already") {
			t.Errorf("once more: status %d: %s", status, said)
		}
	})
	refusing(t, key, own)
}

func refusing(t *testing.T, key *ecdsa.PrivateKey, own *x509.Certificate) {
	other, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	must(t, err)
	p521, err := ecdsa.GenerateKey(elliptic.P521(), rand.Reader)
	must(t, err)
	private := func(key any) []byte {
		der, err := x509.MarshalPKCS8PrivateKey(key)
		return block(t, "PRIVATE KEY", der, err)
	}
	public := func(c *x509.Certificate) []byte { return block(t, "CERTIFICATE", c.Raw, nil) }
	day, sign := time.Now().Add(-time.Hour), x509.KeyUsageDigitalSignature
	for name, f := range map[string]struct {
		file []byte
		want error
	}{
		"an expired certificate":          {append(private(key), public(issued(t, key, key.Public(), day.AddDate(-2, 0, 0), sign))...), certificate.ErrDates},
		"one that is not valid yet":       {append(private(key), public(issued(t, key, key.Public(), day.AddDate(0, 1, 0), sign))...), certificate.ErrDates},
		"a file without a private key":    {public(own), certificate.ErrNoKey},
		"a file without a certificate":    {private(key), certificate.ErrNoCertificate},
		"a key that does not fit":         {append(private(other), public(own)...), certificate.ErrUnfit},
		"a key that readers do not take":  {append(private(p521), public(issued(t, p521, p521.Public(), day, sign))...), certificate.ErrKind},
		"a certificate for other uses":    {append(private(key), public(issued(t, key, key.Public(), day, x509.KeyUsageKeyEncipherment))...), certificate.ErrNotForSigning},
		"an encrypted private key in PEM": {append(block(t, "ENCRYPTED PRIVATE KEY", []byte("x"), nil), public(own)...), certificate.ErrEncryptedPEM},
	} {
		t.Run("import refuses "+name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "key")
			must(t, os.WriteFile(file, f.file, 0o600))
			before := keysKept(t)
			if status, said := typed(t, "\n", "keys", "import", file); status != 1 || !strings.Contains(said, f.want.Error()) {
				t.Errorf("status %d: %s", status, said)
			}
			if after := keysKept(t); after != before {
				t.Errorf("the folder holds %s, before %s", after, before)
			}
		})
	}
	t.Run("import refuses what is no key at all", func(t *testing.T) {
		file := filepath.Join(t.TempDir(), "key")
		must(t, os.WriteFile(file, []byte("jam"), 0o600))
		if status, _ := typed(t, "\n", "keys", "import", file); status != 1 {
			t.Errorf("status %d", status)
		}
	})
}

func keysKept(t *testing.T) string {
	t.Helper()
	var names []string
	must(t, fs.WalkDir(os.DirFS(os.Getenv("SETTLEMARK_DATA")), "keys", func(path string, _ fs.DirEntry, err error) error {
		names = append(names, path)
		return err
	}))
	return strings.Join(names, " ")
}

// The command in the docs by which a site makes a certificate in its own name.
func TestKeysMadeByOpenSSL(t *testing.T) {
	if _, err := exec.LookPath("openssl"); err != nil {
		t.Fatal("openssl is missing: install the Debian package openssl, or run make test.")
	}
	t.Setenv("SETTLEMARK_DATA", t.TempDir())
	t.Setenv("SETTLEMARK_SITE_KEY", "")
	dir := t.TempDir()
	key, cert, p12 := filepath.Join(dir, "k.pem"), filepath.Join(dir, "c.pem"), filepath.Join(dir, "site.p12")
	for _, args := range [][]string{
		{
			"req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-noenc", "-days", "1095", "-subj", "/CN=Ashdown works",
			"-addext", "keyUsage=digitalSignature", "-keyout", key, "-out", cert,
		},
		{"pkcs12", "-export", "-inkey", key, "-in", cert, "-passout", "pass:quince", "-out", p12},
	} {
		if out, err := exec.Command("openssl", args...).CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
	}
	if status, said := typed(t, "quince\n", "keys", "import", p12); status != 0 || !strings.Contains(said, "imported CN=Ashdown works") {
		t.Errorf("status %d: %s", status, said)
	}
}
