package certificate_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"settlemark/internal/commissioning"
)

// A logger that reports four values a second apart fills this logbook in an
// hour: the process that looks at strangers' files must manage it in its bounds.
func TestLargeRunFitsTheBoundedProcess(t *testing.T) {
	yaml, err := os.ReadFile("testdata/small.yaml")
	if err != nil {
		t.Fatal(err)
	}
	s := newStory(t)
	s.yaml = string(yaml)
	if s.proc, err = commissioning.ParseProcedure(yaml); err != nil {
		t.Fatal(err)
	}
	s.add(commissioning.Entry{Kind: commissioning.KindStart, Step: "start"})
	s.wait(time.Minute)
	s.readings(7200, func(int) float64 { return 4.51 })
	offset := int64(12)
	for i := range s.entries {
		e := &s.entries[i]
		e.ID, e.Salt, e.Device = fmt.Sprintf("0197370a-0000-7000-8000-%012d", i), fmt.Sprintf("%032x", i), "Gateway 2"
		captured, received := e.ObservedAt, e.ObservedAt.Add(1234567*time.Microsecond)
		e.CapturedAt, e.ReceivedAt = &captured, &received
		e.Clock = &commissioning.Clock{Raw: "2026-06-04T08:30:00.123+00:00", OffsetMS: &offset, ErrorMS: &offset}
	}
	h := newHouse(t, origin, siteSigner)
	doc := h.release(s.source())
	dir := t.TempDir()
	program, pdf, policy := filepath.Join(dir, "settlemark"), filepath.Join(dir, "large.pdf"), filepath.Join(dir, "policy.txt")
	if out, err := exec.Command("go", "build", "-o", program, "settlemark/cmd/settlemark").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	file := h.issue(doc, nil)
	for path, content := range map[string][]byte{pdf: file, policy: h.policy} {
		if err := os.WriteFile(path, content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	begun := time.Now()
	out, _ := exec.Command(program, "verify", "--bounded", "--now", "2026-06-21T12:00:00Z", "--policy", policy, pdf).CombinedOutput() // 4: no list
	t.Logf("%d entries, a logbook of %d bytes in a file of %d: %s", len(s.entries), len(doc.Attached[0].Text), len(file), time.Since(begun).Round(10*time.Millisecond))
	if !containsLine(string(out), "verdict: genuine, but its status is not known") {
		t.Errorf("%.2000s", out)
	}
}

func containsLine(text, start string) bool {
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, start) {
			return true
		}
	}
	return false
}
