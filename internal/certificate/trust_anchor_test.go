package certificate_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"encoding/pem"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"settlemark/internal/certificate"
)

// A reader that knows the authority above the site's certificate trusts the
// signer; one that does not says so, and that the signature is valid all the same.
func TestReaderTrustsTheAuthority(t *testing.T) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	chain := chainOf(t, key)
	signer, err := certificate.ReadSigner(chain)
	if err != nil {
		t.Fatal(err)
	}
	in, photos := plain(t)
	in.Signer = signer.Fingerprint()
	pdf, _ := render(t, in, photos)
	if pdf, err = signer.Sign(pdf); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	root, _ := pem.Decode(chain)
	known := filepath.Join(dir, "authority.crt")
	if err := os.WriteFile(known, pem.EncodeToMemory(root), 0o600); err != nil {
		t.Fatal(err)
	}
	store := "sql:" + dir
	tool(t, "certutil", "-N", "-d", store, "--empty-password")
	asks := func(trusted bool) {
		t.Helper()
		said := tool(t, "pdfsig", "-nssdir", store, file(t, pdf))
		if !strings.Contains(said, "Signature is Valid") || strings.Contains(said, "Certificate is Trusted") != trusted {
			t.Errorf("trusted: want %v\n%s", trusted, said)
		}
	}
	asks(false)
	tool(t, "certutil", "-A", "-d", store, "-n", "authority", "-t", "C,C,C", "-i", known)
	asks(true)
}
