package ledger_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/note"

	"settlemark/internal/ledger"
)

var noon = time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)

func statusList() ledger.StatusList {
	return ledger.StatusList{
		Origin: origin, Number: 41, Issued: noon, NextUpdate: noon.Add(time.Hour), LogSize: 10,
		Lines: []ledger.StatusLine{
			{Number: "C-0002", Status: "superseded", At: noon.Add(-2 * time.Hour), Reason: "newer-release"},
			{Number: "C-9999", Status: "withdrawn", At: noon.Add(-time.Hour), Reason: "event-repair"},
			{Number: "C-10000", Status: "withdrawn", At: noon.Add(-time.Minute), Reason: "quality"},
		},
	}
}

func signList(t *testing.T, text string, signers ...note.Signer) []byte {
	t.Helper()
	signed, err := note.Sign(&note.Note{Text: text}, signers...)
	if err != nil {
		t.Fatal(err)
	}
	return signed
}

func TestReadStatusList(t *testing.T) {
	signer, vkey := logKey(t, origin)
	p := policy(t, "log "+vkey, "quorum none")
	signed, err := ledger.SignStatusList(statusList(), signer)
	if err != nil {
		t.Fatal(err)
	}
	t.Run("reads what the log signed", func(t *testing.T) {
		l, err := ledger.ReadStatusList(signed, p)
		if err != nil || l.Text() != statusList().Text() || l.Number != 41 || len(l.Lines) != 3 {
			t.Errorf("%+v, %v", l, err)
		}
		line, listed := l.Of("C-9999")
		if !listed || line.Status != "withdrawn" || !line.At.Equal(noon.Add(-time.Hour)) || line.Reason != "event-repair" {
			t.Errorf("%+v", line)
		}
		if _, listed := l.Of("C-0001"); listed {
			t.Error("a valid certificate has a line")
		}
	})
	t.Run("an empty list is a list", func(t *testing.T) {
		l := statusList()
		l.Lines = nil
		if _, err := ledger.ReadStatusList(signList(t, l.Text(), signer), p); err != nil {
			t.Error(err)
		}
	})
	t.Run("refuses a stranger's key, and another log's that the policy knows", func(t *testing.T) {
		stranger, _ := logKey(t, origin)
		other, otherKey := logKey(t, "other.example/1/1")
		for _, s := range []note.Signer{stranger, other} {
			if _, err := ledger.ReadStatusList(signList(t, statusList().Text(), s), policy(t, "log "+vkey, "log "+otherKey, "quorum none")); err == nil {
				t.Errorf("it believes %s", s.Name())
			}
		}
	})
	t.Run("a checkpoint is no list and a list no checkpoint", func(t *testing.T) {
		if _, err := ledger.ReadStatusList(sign(t, checkpoint(t, 7), signer), p); err == nil {
			t.Error("a checkpoint was read as a list")
		}
		if _, err := ledger.OpenCheckpoint(signed, p); err == nil {
			t.Error("a list was read as a checkpoint")
		}
	})
	t.Run("every changed bit is seen", func(t *testing.T) {
		tried := 0
		for i := range signed {
			for bit := range 8 {
				changed := bytes.Clone(signed)
				changed[i] ^= 1 << bit
				tried++
				if l, err := ledger.ReadStatusList(changed, p); err == nil && l.Text() != statusList().Text() {
					t.Fatalf("byte %d bit %d: it reads %s", i, bit, l.Text())
				} else if err == nil {
					t.Fatalf("byte %d bit %d: nothing was seen", i, bit)
				}
			}
		}
		if tried < 2000 {
			t.Fatalf("only %d bits were tried", tried)
		}
	})
	t.Run("what is not written as Text writes it is refused though signed", func(t *testing.T) { refusesLists(t, signer, p) })
}

func refusesLists(t *testing.T, signer note.Signer, p ledger.Policy) {
	text := statusList().Text()
	for what, other := range map[string]string{
		"another format":            strings.Replace(text, "status/1", "status/2", 1),
		"no lines but the first":    "status/1\n",
		"a number with a zero":      strings.Replace(text, "\n41\n", "\n041\n", 1),
		"a number below nothing":    strings.Replace(text, "\n41\n", "\n-1\n", 1),
		"an instant without digits": strings.Replace(text, "12:00:00.000000Z", "12:00:00Z", 1),
		"an instant elsewhere":      strings.Replace(text, "12:00:00.000000Z", "12:00:00.000000+00:00", 1),
		"no next update":            strings.Replace(text, "13:00:00", "12:00:00", 1),
		"a word for a status":       strings.Replace(text, " withdrawn ", " gone ", 1),
		"two spaces":                strings.Replace(text, " withdrawn ", "  withdrawn ", 1),
		"a reason in words":         strings.Replace(text, "event-repair", "pump broke", 1),
		"a certificate twice":       text + "C-10000 withdrawn 2026-03-04T11:00:00.000000Z quality\n",
		"certificates out of order": text + "C-0003 withdrawn 2026-03-04T11:00:00.000000Z quality\n",
		"an empty line":             text + "\n",
		"no origin":                 strings.Replace(text, origin, "", 1),
	} {
		if other == text {
			t.Errorf("%s: nothing was changed", what)
		}
		if l, err := ledger.ReadStatusList(signList(t, other, signer), p); err == nil {
			t.Errorf("%s: read as %+v", what, l)
		}
	}
}

func TestOmits(t *testing.T) {
	at := noon.Add(-time.Hour)
	both := statusList()
	for _, c := range []struct {
		what  string
		index int64
		leaf  []byte
		omits bool
	}{
		{"a withdrawal that is listed", 3, ledger.StatusLeaf("C-9999", "withdrawn", at, "Void"), false},
		{"one that is left out", 3, ledger.StatusLeaf("C-0007", "withdrawn", at, "Void"), true},
		{"one that came after the list", 10, ledger.StatusLeaf("C-0007", "withdrawn", at, "Void"), false},
		{"one that is listed at another instant", 3, ledger.StatusLeaf("C-9999", "withdrawn", noon, "Void"), true},
		{"one that is listed as superseded only", 3, ledger.StatusLeaf("C-0002", "withdrawn", noon.Add(-2*time.Hour), "Void"), true},
		{"a supersession of one that is listed as withdrawn", 3, ledger.StatusLeaf("C-9999", "superseded", noon.Add(-5*time.Hour), "x"), false},
		{"a leaf of another kind", 3, ledger.CertificateLeaf("C-0007", []byte("{}")), false},
	} {
		if omits, err := both.Omits(c.index, c.leaf); err != nil || omits != c.omits {
			t.Errorf("%s: omits %t, %v", c.what, omits, err)
		}
	}
	if _, err := both.Omits(1, []byte("not JSON")); err == nil {
		t.Error("a leaf that is none was taken")
	}
}
