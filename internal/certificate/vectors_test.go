package certificate_test

import (
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"settlemark/internal/auth"
	"settlemark/internal/certificate"
	"settlemark/internal/ledger"
)

var updateVectors = flag.Bool("update-vectors", false, "make the published vectors anew")

const vectorDir = "testdata/vectors"

// A vector is one line of the published index.
type vector struct {
	name, file, list string // list "-": none
	now              time.Time
	verdict          certificate.Verdict
	check            string // first that does not come out ok, "-" for none
	why              string
}

// outgrown is what to do when a change of the drawing or of the rules fails these tests.
const outgrown = "If the drawing or the rules were changed on purpose: since the last release, run this test with -update-vectors; " +
	"else give them the next version and keep the old one callable."

const indexHead = "# name\tfile\tstatus list\tnow\texit status\tfirst check that is not ok\twhat it is\n"

func (v vector) line() string {
	return strings.Join([]string{v.name, v.file, v.list, v.now.Format(time.RFC3339), fmt.Sprint(int(v.verdict)), v.check, v.why}, "\t") + "\n"
}

func readVectors(t *testing.T) []vector {
	t.Helper()
	index, err := os.ReadFile(filepath.Join(vectorDir, "index.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	var all []vector
	for line := range strings.Lines(string(index)) {
		f := strings.Split(strings.TrimSuffix(line, "\n"), "\t")
		if strings.HasPrefix(line, "#") || len(f) != 7 {
			continue
		}
		now, err := time.Parse(time.RFC3339, f[3])
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, vector{f[0], f[1], f[2], now, certificate.Verdict(f[4][0] - '0'), f[5], f[6]})
	}
	return all
}

// The published vectors come out as their index says: one flaw each.
func TestVectors(t *testing.T) {
	if *updateVectors {
		writeVectors(t)
	}
	policy, err := os.ReadFile(filepath.Join(vectorDir, "policy.txt"))
	if err != nil {
		t.Fatal(err)
	}
	all := readVectors(t)
	if len(all) < 30 {
		t.Fatalf("the index has %d vectors", len(all))
	}
	for _, v := range all {
		t.Run(v.name, func(t *testing.T) {
			pdf, err := os.ReadFile(filepath.Join(vectorDir, v.file))
			if err != nil {
				t.Fatal(err)
			}
			trust := trustOf(t, policy, v.list)
			trust.Now = v.now
			r := trust.Verify(pdf)
			first, found := r.FirstNot(certificate.OK)
			if !found {
				first.Name = "-"
			}
			if r.Verdict != v.verdict || first.Name != v.check {
				t.Errorf("exit status %d at %q, want %d at %q\n%s%s", r.Verdict, first.Name, v.verdict, v.check, r.Text(), outgrown)
			}
		})
	}
}

// checkPasskey is what the program does.
func checkPasskey(s certificate.Signature, reason string) error {
	head, err := hex.DecodeString(s.Head)
	return errors.Join(err, auth.CheckAssertion(*s.Passkey, auth.Typed(head, reason), s.Passkey.Nonce, s.Passkey.RP))
}

func trustOf(t *testing.T, policy []byte, list string) certificate.Trust {
	t.Helper()
	p, err := ledger.ReadPolicy(policy)
	if err != nil {
		t.Fatal(err)
	}
	trust := certificate.Trust{Policy: p, Now: dayAfter, Passkey: checkPasskey}
	if list == "-" {
		return trust
	}
	text, err := os.ReadFile(filepath.Join(vectorDir, list))
	if err != nil {
		t.Fatal(err)
	}
	read, err := ledger.ReadStatusList(text, p)
	if err != nil {
		t.Fatal(err)
	}
	trust.Status = &read
	return trust
}
