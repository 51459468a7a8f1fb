package certificate_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"settlemark/internal/certificate"
	"settlemark/internal/ledger"
	"settlemark/internal/rules"
)

const keptDir = "testdata/kept"

// One certificate of each release and language is kept and verified for ever: by
// its own renderer, its own rules, in its own words, with nothing left out.
func TestKept(t *testing.T) {
	current := map[string]making{}
	for suffix, make := range map[string]making{"": everything, "-de": german} {
		current[filepath.Join(keptDir, fmt.Sprintf("renderer-%d-rules-%d%s.pdf", certificate.Renderer, rules.Version, suffix))] = make
	}
	if *updateVectors { // of this release only; those of others are never made anew
		w := newWriting(t)
		for name, make := range current {
			in, photos := make(t)
			if err := os.WriteFile(name, w.house.issue(w.house.release(in), photos), 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	policy, err := os.ReadFile(filepath.Join(keptDir, "policy.txt"))
	if err != nil {
		t.Fatal(err)
	}
	p, err := ledger.ReadPolicy(policy)
	if err != nil {
		t.Fatal(err)
	}
	all, err := filepath.Glob(filepath.Join(keptDir, "*.pdf"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range all {
		delete(current, name)
		t.Run(strings.TrimSuffix(filepath.Base(name), ".pdf"), func(t *testing.T) {
			pdf, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			trust := certificate.Trust{Policy: p, Status: list(), Now: dayAfter}
			r := trust.Verify(pdf)
			if c, doubtful := r.FirstNot(certificate.OK); doubtful || r.Verdict != certificate.Genuine {
				t.Errorf("%s: %s\n%s%s", c.Name, c.Text, r.Text(), outgrown)
			}
		})
	}
	for name := range current {
		t.Errorf("of this release there is no %s", name)
	}
}
