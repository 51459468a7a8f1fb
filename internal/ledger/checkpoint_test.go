package ledger_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/note"

	"settlemark/internal/ledger"
)

func TestOpenCheckpoint(t *testing.T) {
	signer, vkey := logKey(t, origin)
	stranger, strangersKey := logKey(t, origin)
	p := policy(t, "log "+vkey, "quorum none")
	signed := sign(t, checkpoint(t, 7), signer)
	t.Run("reads what the log signed", func(t *testing.T) {
		if c, err := ledger.OpenCheckpoint(signed, p); err != nil || c != checkpoint(t, 7) {
			t.Errorf("%+v, %v", c, err)
		}
	})
	t.Run("refuses a stranger's key under the log's name", func(t *testing.T) {
		if c, err := ledger.OpenCheckpoint(sign(t, checkpoint(t, 7), stranger), p); err == nil {
			t.Errorf("it believes %+v", c)
		}
	})
	t.Run("refuses a key of another log that the policy knows", func(t *testing.T) {
		other, otherKey := logKey(t, "other.example/1/1")
		both := policy(t, "log "+vkey, "log "+otherKey, "quorum none")
		if c, err := ledger.OpenCheckpoint(sign(t, checkpoint(t, 7), other), both); err == nil {
			t.Errorf("it believes %+v", c)
		}
	})
	t.Run("refuses a witness in place of the log", func(t *testing.T) {
		w := cosigner(t, "witness.example")
		p := policy(t, "log "+vkey, "witness w "+w.VerifierKey(), "quorum none")
		text := []byte(checkpoint(t, 7).Text() + "\n" + w.Cosign(signed, time.Unix(1, 0)))
		if c, err := ledger.OpenCheckpoint(text, p); err == nil {
			t.Errorf("it believes %+v", c)
		}
	})
	t.Run("while one key follows another, old, new and both readers believe, a stranger's reader does not", func(t *testing.T) {
		next, nextKey := logKey(t, origin)
		signed := sign(t, checkpoint(t, 7), signer, next)
		for reader, lines := range map[string][]string{
			"old": {"log " + vkey}, "new": {"log " + nextKey}, "both": {"log " + vkey, "log " + nextKey},
		} {
			if _, err := ledger.OpenCheckpoint(signed, policy(t, append(lines, "quorum none")...)); err != nil {
				t.Errorf("the %s reader: %v", reader, err)
			}
		}
		if c, err := ledger.OpenCheckpoint(signed, policy(t, "log "+strangersKey, "quorum none")); err == nil {
			t.Errorf("the stranger's reader believes %+v", c)
		}
	})
	t.Run("every changed bit is seen", func(t *testing.T) {
		tried, seen := 0, 0
		for i := range signed {
			for bit := range 8 {
				changed := bytes.Clone(signed)
				changed[i] ^= 1 << bit
				tried++
				if _, err := ledger.OpenCheckpoint(changed, p); err != nil {
					seen++
				} else {
					t.Errorf("bit %d of byte %d: %q", bit, i, changed)
				}
			}
		}
		t.Logf("%d bits changed, %d seen", tried, seen)
	})
	t.Run("refuses bodies that are not origin, size and root", func(t *testing.T) {
		root := checkpoint(t, 7).Root.String()
		for _, body := range []string{
			origin + "\n7\n", origin + "\n07\n" + root + "\n", origin + "\n-7\n" + root + "\n", origin + "\n+7\n" + root + "\n",
			origin + "\n7\n" + root[:43] + "\n", origin + "\n7\n" + strings.TrimRight(root, "=") + "\n",
			origin + "\n9223372036854775808\n" + root + "\n", "\n7\n" + root + "\n", origin + "\n7\n" + root + "\n\nmore\n",
			origin + "\n7\n" + root + "\nsealed yesterday\n",
		} {
			signed, err := note.Sign(&note.Note{Text: body}, signer)
			if err != nil {
				t.Fatal(err)
			}
			if c, err := ledger.OpenCheckpoint(signed, p); err == nil {
				t.Errorf("%q is %+v", body, c)
			}
		}
	})
	t.Run("one that says no time has none", func(t *testing.T) {
		silent := checkpoint(t, 7)
		silent.Sealed = time.Time{}
		if c, err := ledger.OpenCheckpoint(sign(t, silent, signer), p); err != nil || !c.Sealed.IsZero() {
			t.Errorf("%+v, %v", c, err)
		}
	})
	t.Run("leaves extension lines alone", func(t *testing.T) {
		signed, err := note.Sign(&note.Note{Text: checkpoint(t, 7).Text() + "more\n"}, signer)
		if err != nil {
			t.Fatal(err)
		}
		if c, err := ledger.OpenCheckpoint(signed, p); err != nil || c != checkpoint(t, 7) {
			t.Errorf("%+v, %v", c, err)
		}
	})
}

func TestCosigner(t *testing.T) {
	c := cosigner(t, "witness.example/w1")
	t.Run("its key file is read again", func(t *testing.T) {
		again, err := ledger.ReadCosigner(c.Text() + "\n")
		if err != nil || again.VerifierKey() != c.VerifierKey() {
			t.Errorf("%v", err)
		}
	})
	t.Run("a damaged key file is refused", func(t *testing.T) {
		text := c.Text()
		for i := range text {
			if damaged, err := ledger.ReadCosigner(text[:i] + "A" + text[i+1:]); err == nil && text[i] != 'A' {
				t.Errorf("byte %d: it reads %s", i, damaged.VerifierKey())
			}
		}
	})
	t.Run("a cosignature of another time or checkpoint is refused", func(t *testing.T) {
		signer, vkey := logKey(t, origin)
		p := policy(t, "log "+vkey, "witness w "+c.VerifierKey(), "quorum w")
		signed := sign(t, checkpoint(t, 7), signer)
		if _, err := ledger.OpenCheckpoint(append(bytes.Clone(signed), c.Cosign(sign(t, checkpoint(t, 8), signer), time.Unix(1, 0))...), p); err == nil {
			t.Error("it believes the cosignature of size 8")
		}
		if _, err := ledger.OpenCheckpoint(append(bytes.Clone(signed), c.Cosign(signed, time.Unix(1, 0))...), p); err != nil {
			t.Error(err)
		}
	})
}
