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

// One certificate of each release is kept and verified for ever: by its own
// renderer, its own rules, with nothing left out.
func TestKept(t *testing.T) {
	current := filepath.Join(keptDir, fmt.Sprintf("renderer-%d-rules-%d.pdf", certificate.Renderer, rules.Version))
	if *updateVectors { // of this release only; those of others are never made anew
		w := newWriting(t)
		in, photos := everything(t)
		if err := os.WriteFile(current, w.house.issue(w.house.release(in), photos), 0o600); err != nil {
			t.Fatal(err)
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
	if err != nil || len(all) == 0 {
		t.Fatalf("%v, %v", all, err)
	}
	found := false
	for _, name := range all {
		found = found || name == current
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
	if !found {
		t.Errorf("no certificate of this release is kept: %s", current)
	}
}
