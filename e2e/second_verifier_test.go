package e2e_test

import (
	"bufio"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// vectors are the published certificates with one flaw each.
const vectors = "../internal/certificate/testdata/vectors"

// The second verifier, in another language and sharing no line with ours, says
// the same of every published certificate whose flaw it looks for.
func TestSecondVerifier(t *testing.T) {
	python := tool(t, "python3", "python3")
	index, err := os.Open(filepath.Join(vectors, "index.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	defer index.Close()
	finds := []string{"log key", "attachments", "log entry", "chain"} // the checks that it makes
	passes := []string{"-", "status", "validity", "site key", "rules", "page"}
	found, passed := 0, 0
	for lines := bufio.NewScanner(index); lines.Scan(); {
		fields := strings.Split(lines.Text(), "\t")
		if strings.HasPrefix(lines.Text(), "#") || len(fields) != 7 {
			continue
		}
		name, file, check := fields[0], fields[1], fields[5]
		t.Run(name, func(t *testing.T) {
			out, err := exec.Command(python, "verify.py", filepath.Join(vectors, file), filepath.Join(vectors, "policy.txt")).CombinedOutput()
			var ended *exec.ExitError
			if err != nil && (!errors.As(err, &ended) || ended.ExitCode() > 2 || strings.Contains(string(out), "Traceback")) {
				t.Fatalf("%v\n%s", err, out)
			}
			switch {
			case name == "unknown-format": // a record of a later format stands in the log all the same
			case slices.Contains(finds, check):
				found++
				if err == nil {
					t.Errorf("finds nothing: %s", out)
				}
			case slices.Contains(passes, check):
				passed++
				if err != nil {
					t.Errorf("finds fault: %s", out)
				}
			}
		})
	}
	t.Logf("the second verifier finds %d flaws and passes %d files that are in the log", found, passed)
	if found < 9 || passed < 10 {
		t.Error("the index has too few of a kind")
	}
}
