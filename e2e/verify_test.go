package e2e_test

import (
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A certificate as the server issued it, checked by strangers: with the program
// and the site's public files, with the second verifier, and on the verify page.
func TestVerifyByStrangers(t *testing.T) {
	a := demoApp(t)
	const number = "C-0006"
	pdf := awaited(visitAs(t, a, "keiko"), "/certificates/"+number+".pdf")
	stranger := visit(t, a)
	dir := t.TempDir()
	keep := func(name, content string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	file := keep(number+".pdf", pdf)
	policy := keep("policy.txt", stranger.reads("/log/policy.txt").body)
	list := keep("list.txt", awaited(stranger, "/log/status"))
	t.Run("the program finds it genuine with the site's public files", func(t *testing.T) {
		said := string(run(t, program, "verify", file, "--policy", policy, "--status", list))
		if !strings.Contains(said, "verdict: genuine and valid: certificate "+number) || strings.Contains(said, "not checked") {
			t.Error(said)
		}
	})
	t.Run("the second verifier finds it in the log", func(t *testing.T) {
		if said := string(run(t, tool(t, "python3", "python3"), "verify.py", file, policy)); !strings.Contains(said, "in the log: "+number) {
			t.Error(said)
		}
	})
	t.Run("the verify page shows what the code shows", func(t *testing.T) {
		got := stranger.upload("/verify", nil, "file", "anything.pdf", []byte(pdf))
		facts := got.document().Find("main dl.facts").Text()
		if got.status != http.StatusOK || !strings.Contains(facts, number) || !strings.Contains(got.document().Find("main [role=status]").Text(), "Valid") {
			t.Errorf("%d %s", got.status, got.sentences())
		}
	})
	altered := []byte(pdf)
	altered[len(altered)/3] ^= 1
	t.Run("one altered bit is found by the program and on the page", func(t *testing.T) {
		out, err := exec.Command(program, "verify", keep("altered.pdf", string(altered)), "--policy", policy).CombinedOutput()
		if err == nil || !strings.Contains(string(out), "verdict: altered") {
			t.Errorf("%v %s", err, out)
		}
		if got := stranger.upload("/verify", nil, "file", "x.pdf", altered); !strings.Contains(got.body, "Altered: this file does not say what was released.") || strings.Contains(got.body, number) {
			t.Errorf("%d %s", got.status, got.sentences())
		}
	})
	t.Run("a file of nobody here is unknown", func(t *testing.T) {
		other, err := os.ReadFile(filepath.Join(vectors, "genuine.pdf"))
		if err != nil {
			t.Fatal(err)
		}
		if got := stranger.upload("/verify", nil, "file", "x.pdf", other); got.status != http.StatusNotFound || !strings.Contains(got.body, "Unknown: this file") {
			t.Errorf("%d %s", got.status, got.sentences())
		}
	})
}

// awaited reads what is made a moment after the release or the start.
func awaited(v *visitor, path string) string {
	v.t.Helper()
	for range 90 {
		if got := v.get(path); got.status == http.StatusOK {
			return got.body
		}
		time.Sleep(time.Second)
	}
	return v.reads(path).body
}
