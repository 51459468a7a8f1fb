package ledger_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"settlemark/internal/ledger"
)

func TestProof(t *testing.T) {
	signer, vkey := logKey(t, origin)
	p := policy(t, "log "+vkey, "quorum none")
	tree := grown(t, numbered(77)...)
	signed := sign(t, checkpoint(t, 77), signer)
	proof := func(index int64) ledger.Proof {
		hashes, err := tree.Prove(index, 77)
		if err != nil {
			t.Fatal(err)
		}
		return ledger.Proof{Index: index, Hashes: hashes, Checkpoint: signed}
	}
	t.Run("of every leaf is written, read and believed", func(t *testing.T) {
		for i, leaf := range numbered(77) {
			text := proof(int64(i)).Text()
			read, err := ledger.ReadProof(text)
			if err != nil || !bytes.Equal(read.Text(), text) {
				t.Fatalf("leaf %d: %v", i, err)
			}
			if c, err := read.Check(leaf, p); err != nil || c != checkpoint(t, 77) {
				t.Errorf("leaf %d: %+v, %v", i, c, err)
			}
		}
	})
	t.Run("shows no other leaf", func(t *testing.T) {
		for i, leaf := range numbered(77) {
			if i != 30 {
				if _, err := proof(30).Check(leaf, p); err == nil {
					t.Errorf("it shows leaf %d", i)
				}
			}
		}
	})
	t.Run("every changed bit is seen", func(t *testing.T) {
		text := proof(30).Text()
		tried, seen := 0, 0
		for i := range text {
			for bit := range 8 {
				changed := bytes.Clone(text)
				changed[i] ^= 1 << bit
				tried++
				read, err := ledger.ReadProof(changed)
				if err == nil {
					_, err = read.Check([]byte("leaf 30"), p)
				}
				if err != nil {
					seen++
				} else {
					t.Errorf("bit %d of byte %d: %q", bit, i, changed)
				}
			}
		}
		t.Logf("%d bits changed, %d seen; the file has %d bytes", tried, seen, len(text))
	})
	t.Run("is written as C2SP tlog-proof says", func(t *testing.T) {
		lines := strings.Split(string(proof(73).Text()), "\n")
		if lines[0] != "c2sp.org/tlog-proof@v1" || lines[1] != "index 73" || lines[2+len(proof(73).Hashes)] != "" ||
			lines[3+len(proof(73).Hashes)] != origin {
			t.Errorf("%q", lines)
		}
	})
	for what, change := range map[string]func(text string) string{
		"nothing":                  func(string) string { return "" },
		"another first line":       func(s string) string { return strings.Replace(s, "@v1", "@v2", 1) },
		"extra data":               func(s string) string { return strings.Replace(s, "index", "extra QQ==\nindex", 1) },
		"no index":                 func(s string) string { return strings.Replace(s, "index 30\n", "", 1) },
		"a leading zero":           func(s string) string { return strings.Replace(s, "index 30", "index 030", 1) },
		"an index outside the log": func(s string) string { return strings.Replace(s, "index 30", "index 77", 1) },
		"a carriage return":        func(s string) string { return strings.Replace(s, "=\n", "=\r\n", 1) },
		"a hash too many": func(s string) string {
			return strings.Replace(s, "\n\n", "\n"+checkpoint(t, 0).Root.String()+"\n\n", 1)
		},
		"many hashes": func(s string) string {
			return strings.Replace(s, "\n\n", strings.Repeat("\n"+checkpoint(t, 0).Root.String(), 99)+"\n\n", 1)
		},
		"a signature line twice":      func(s string) string { i := strings.Index(s, "— "); return s + s[i:] },
		"a megabyte after it":         func(s string) string { return s + strings.Repeat("— a AAAAAAAA\n", 100_000) },
		"no checkpoint":               func(s string) string { return s[:strings.Index(s, "\n\n")+2] },
		"a line after the signatures": func(s string) string { return s + "more\n" },
	} {
		t.Run("refuses "+what, func(t *testing.T) {
			read, err := ledger.ReadProof([]byte(change(string(proof(30).Text()))))
			if err == nil {
				_, err = read.Check([]byte("leaf 30"), p)
			}
			if err == nil {
				t.Error("it is believed")
			}
		})
	}
}

func TestLeaf(t *testing.T) {
	at := time.Date(2026, 11, 25, 11, 22, 33, 456_000_000, time.FixedZone("", 3600))
	// SHA-256 of "{}" and "a", with sha256sum.
	const braces, letter = "44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a", "ca978112ca1bbdcafac231b39a23dc4da786eff8147c4e72b9807785afee48bb"
	for want, got := range map[string][]byte{
		`{"digest":"` + braces + `","number":"C-0007","t":"certificate/1"}`:                                                    ledger.CertificateLeaf("C-0007", []byte("{}")),
		`{"number":"C-0007","sha256":"` + letter + `","t":"certificate-pdf/1"}`:                                                ledger.CertificateFileLeaf("C-0007", []byte("a")),
		`{"at":"2026-11-25T10:22:33.456000Z","number":"C-0007","reason":"` + letter + `","status":"withdrawn","t":"status/1"}`: ledger.StatusLeaf("C-0007", "withdrawn", at, "a"),
		`{"at":"2026-11-25T10:22:33.456000Z","key":"k","origin":"o","signed":"s","t":"key/1"}`:                                 ledger.KeyLeaf("o", "k", "s", at),
	} {
		if string(got) != want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
	}
}

func FuzzReadProof(f *testing.F) {
	signer, vkey := logKey(f, origin)
	p := policy(f, "log "+vkey, "quorum none")
	f.Add(string(ledger.Proof{Checkpoint: sign(f, checkpoint(f, 1), signer)}.Text()))
	f.Fuzz(func(t *testing.T, text string) {
		read, err := ledger.ReadProof([]byte(text))
		if err != nil {
			return
		}
		if string(read.Text()) != text {
			t.Fatalf("%q is written %q", text, read.Text())
		}
		_, _ = read.Check([]byte("leaf"), p)
	})
}
