package ledger_test

import (
	"crypto/rand"
	"fmt"
	"strings"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/note"

	"settlemark/internal/ledger"
)

const origin = "press.example/5f1d/1"

var sealedAt = time.Date(2026, 11, 25, 9, 59, 59, 123_456_000, time.UTC)

// logKey is a new key of the log.
func logKey(t testing.TB, name string) (note.Signer, string) {
	t.Helper()
	skey, vkey, err := note.GenerateKey(rand.Reader, name)
	if err != nil {
		t.Fatal(err)
	}
	signer, err := note.NewSigner(skey)
	if err != nil {
		t.Fatal(err)
	}
	return signer, vkey
}

func cosigner(t testing.TB, name string) ledger.Cosigner {
	t.Helper()
	c, err := ledger.NewCosigner(rand.Reader, name)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func policy(t testing.TB, lines ...string) ledger.Policy {
	t.Helper()
	p, err := ledger.ReadPolicy([]byte(strings.Join(lines, "\n") + "\n"))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func checkpoint(t testing.TB, size int) ledger.Checkpoint {
	t.Helper()
	root, err := grown(t, numbered(size)...).RootAt(int64(size))
	if err != nil {
		t.Fatal(err)
	}
	return ledger.Checkpoint{Origin: origin, Size: int64(size), Root: root, Sealed: sealedAt}
}

func sign(t testing.TB, c ledger.Checkpoint, signers ...note.Signer) []byte {
	t.Helper()
	signed, err := ledger.SignCheckpoint(c, signers...)
	if err != nil {
		t.Fatal(err)
	}
	return signed
}

// The quorum of the example in C2SP tlog-policy: two of three X and one of three Y.
func TestQuorum(t *testing.T) {
	signer, vkey := logKey(t, origin)
	lines := []string{"# two organisations", "log " + vkey, ""}
	witnesses := map[string]ledger.Cosigner{}
	for _, name := range []string{"X1", "X2", "X3", "Y1", "Y2", "Y3"} {
		witnesses[name] = cosigner(t, "witness.example/"+name)
		lines = append(lines, "witness "+name+"\t"+witnesses[name].VerifierKey()+" https://"+name+".example/")
	}
	lines = append(lines, "group X 2 X1 X2 X3", "group Y any Y1 Y2 Y3", "group both all X Y", " quorum both")
	p := policy(t, lines...)
	at := time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC)
	for names, want := range map[string]bool{
		"": false, "X1 X2": false, "X1 Y1": false, "X1 X3 Y2": true, "X1 X2 X3": false, "Y1 Y2 Y3": false,
		"X1 X2 X3 Y1 Y2 Y3": true, "X2 X3 Y3": true,
	} {
		signed := sign(t, checkpoint(t, 5), signer)
		for _, name := range strings.Fields(names) {
			signed = append(signed, witnesses[name].Cosign(signed, at)...)
		}
		c, err := ledger.OpenCheckpoint(signed, p)
		if (err == nil) != want || want && c != checkpoint(t, 5) {
			t.Errorf("cosigned by %q: %+v, %v", names, c, err)
		}
		cosigned, err := ledger.Cosignatures(signed, p)
		if err != nil || len(cosigned) != len(strings.Fields(names)) || len(cosigned) > 0 && !cosigned[0].At.Equal(at) {
			t.Errorf("cosigned by %q: %v, %v", names, cosigned, err)
		}
	}
	if w := p.Witnesses()["Y2"]; w.URL != "https://Y2.example" || len(p.Witnesses()) != 6 {
		t.Errorf("witnesses %v", p.Witnesses())
	}
}

func TestReadPolicy(t *testing.T) {
	_, vkey := logKey(t, origin)
	name, rest, _ := strings.Cut(vkey, "+")
	w1, w2 := cosigner(t, "w1").VerifierKey(), cosigner(t, "w2").VerifierKey()
	for what, lines := range map[string]string{
		"nothing":                           "",
		"no quorum":                         "log " + vkey,
		"two quorums":                       "quorum none\nquorum none",
		"a quorum of nobody":                "witness a " + w1 + "\nquorum b",
		"a quorum named before its witness": "quorum a\nwitness a " + w1,
		"a name twice":                      "witness a " + w1 + "\nwitness a " + w2 + "\nquorum a",
		"a key twice":                       "witness a " + w1 + "\nwitness b " + w1 + "\nquorum a",
		"a log key twice":                   "log " + vkey + "\nlog " + vkey + "\nquorum none",
		"a log key as a witness":            "witness a " + vkey + "\nquorum a",
		"a witness key as a log":            "log " + w1 + "\nquorum none",
		"a key under another name":          "log " + name + "x+" + rest + "\nquorum none",
		"a witness named none":              "witness none " + w1 + "\nquorum none",
		"a group of none":                   "group g any none\nquorum g",
		"a group of nobody":                 "group g any\nquorum g",
		"a group of itself":                 "group g any g\nquorum g",
		"a group of later ones":             "group g any a\nwitness a " + w1 + "\nquorum g",
		"a group that needs none":           "witness a " + w1 + "\ngroup g 0 a\nquorum g",
		"a group that needs too many":       "witness a " + w1 + "\ngroup g 2 a\nquorum g",
		"a group that needs 01":             "witness a " + w1 + "\ngroup g 01 a\nquorum g",
		"a member of two groups":            "witness a " + w1 + "\ngroup g any a\ngroup h any a\nquorum g",
		"a member twice":                    "witness a " + w1 + "\ngroup g 2 a a\nquorum g",
		"an unknown line":                   "logs " + vkey + "\nquorum none",
		"a word too many":                   "quorum none none",
		"a control character":               "quorum none\r",
		"too many lines":                    strings.Repeat("\n", 2000) + "quorum none",
	} {
		t.Run("refuses "+what, func(t *testing.T) {
			if p, err := ledger.ReadPolicy([]byte(lines)); err == nil {
				t.Errorf("it reads %+v", p)
			}
		})
	}
	t.Run("takes 32 logs, witnesses and groups", func(t *testing.T) { // C2SP tlog-policy asks for so many
		var text strings.Builder
		for i := range 32 {
			_, vkey := logKey(t, origin)
			fmt.Fprintf(&text, "log %s\nwitness w%d %s\ngroup g%d any w%d\n", vkey, i, cosigner(t, "w").VerifierKey(), i, i)
		}
		if _, err := ledger.ReadPolicy([]byte(text.String() + "quorum g31\n")); err != nil {
			t.Error(err)
		}
	})
	t.Run("the zero policy believes nothing", func(t *testing.T) {
		signer, _ := logKey(t, origin)
		if c, err := ledger.OpenCheckpoint(sign(t, checkpoint(t, 1), signer), ledger.Policy{}); err == nil {
			t.Errorf("it believes %+v", c)
		}
	})
}

func FuzzReadPolicy(f *testing.F) {
	f.Add("log " + origin + "\nwitness a b\ngroup g any a\nquorum g\n")
	_, vkey := logKey(f, origin)
	f.Add("log " + vkey + " https://press.example\nquorum none\n")
	f.Fuzz(func(t *testing.T, text string) {
		p, err := ledger.ReadPolicy([]byte(text))
		if err == nil {
			_, _ = ledger.OpenCheckpoint([]byte(text), p)
		}
	})
}
