package e2e_test

import (
	"crypto/ed25519"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// A second site watches the log: it cosigns what continues what it saw, and
// when the record and everything beside it are set back to an earlier day and
// go on from there, it is the one who can tell.
func TestWitness(t *testing.T) {
	t.Parallel()
	data, err := newData()
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(data)
	a := mustLaunch(t, data)
	policy := filepath.Join(t.TempDir(), "policy.txt")
	awaited(visit(t, a), "/log/checkpoint")
	if err := os.WriteFile(policy, []byte(visit(t, a).reads("/log/policy.txt").body), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := a.stop(); err != nil {
		t.Fatal(err)
	}
	older := data + "-older"
	defer os.RemoveAll(older)
	run(t, "cp", "-a", data, older)

	w := startWitness(t, policy)
	lines := filepath.Join(t.TempDir(), "witnesses")
	if err := os.WriteFile(lines, []byte(w.line+"\nquorum south.example\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	asks := "SETTLEMARK_WITNESSES=" + lines
	a = mustLaunch(t, data, asks)
	marit := visitAs(t, a, "marit")
	book := marit.opens("BH-03", "return-to-service/1")
	t.Run("a checkpoint of what was written since carries its word", func(t *testing.T) {
		before := cosigned(t, marit, 0)
		marit.send("/runs/"+book+"/entries", url.Values{
			"id": {"01970000-0000-7000-8000-000000000001"}, "form": {"note"}, "kind": {"note"}, "text": {"The witness is asked."},
		})
		after := cosigned(t, marit, size(before)+1)
		w.vouches(t, before)
		w.vouches(t, after)
	})
	if err := a.stop(); err != nil {
		t.Fatal(err)
	}
	t.Run("a log that was set back is refused, and everybody can see it", func(t *testing.T) {
		if err := os.RemoveAll(data); err != nil {
			t.Fatal(err)
		}
		run(t, "cp", "-a", older, data) // record, key and the newest checkpoint beside it
		forked := mustLaunch(t, data, asks)
		defer func() { _ = forked.stop() }()
		v := visit(t, forked)
		for range 300 {
			if strings.Contains(v.get("/healthz").body, "Nothing is sealed: the witness south.example has cosigned another log under this name") {
				break
			}
			time.Sleep(100 * time.Millisecond)
		}
		if got := v.get("/healthz"); !strings.Contains(got.body, "the witness south.example") {
			t.Errorf("health says %q", got.body)
		}
		if got := visitAs(t, forked, "keiko").get("/account"); !strings.Contains(got.body, "the witness south.example has cosigned another log") {
			t.Error("quality is not told")
		}
		if !strings.Contains(w.stderr.String(), "a checkpoint was refused") {
			t.Errorf("the witness logged %s", w.stderr)
		}
	})
}

func mustLaunch(t *testing.T, data string, env ...string) *app {
	t.Helper()
	a, err := launch(data, "127.0.0.1:0", env...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = a.cmd.Process.Kill() })
	return a
}

// aWitness is the program as a second site runs it.
type aWitness struct {
	line   string // of a policy
	stderr *transcript
}

func startWitness(t *testing.T, policy string) aWitness {
	t.Helper()
	stdout := &transcript{}
	w := aWitness{stderr: &transcript{}}
	cmd := exec.Command(program, "witness", "--name", "south.example", "--data", t.TempDir(), "--policy", policy, "--listen", "127.0.0.1:0")
	cmd.Stdout, cmd.Stderr = stdout, w.stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	for range 300 {
		if m := regexp.MustCompile(`policy  (witness .+)\n`).FindStringSubmatch(stdout.String()); m != nil {
			w.line = m[1]
			return w
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Fatalf("the witness did not begin: %s%s", stdout, w.stderr)
	return w
}

// cosigned waits for a checkpoint of at least that size that the witness signed.
func cosigned(t *testing.T, v *visitor, least int) string {
	t.Helper()
	got := ""
	for range 300 {
		if got = v.get("/log/checkpoint").body; strings.Contains(got, "— south.example ") && size(got) >= least {
			return got
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Fatalf("no checkpoint was cosigned: %s", got)
	return ""
}

func size(checkpoint string) (n int) {
	_, _ = fmt.Sscan(strings.Split(checkpoint, "\n")[1], &n)
	return n
}

// vouches checks the signature as C2SP tlog-cosignature describes it.
func (w aWitness) vouches(t *testing.T, checkpoint string) {
	t.Helper()
	vkey := strings.Fields(w.line)[2]
	key, err := base64.StdEncoding.DecodeString(strings.SplitN(vkey, "+", 3)[2]) // a key may hold the sign too
	if err != nil || len(key) != 33 || key[0] != 4 {
		t.Fatalf("%q is no key of a witness: %v", vkey, err)
	}
	body, signatures, _ := strings.Cut(checkpoint, "\n\n")
	_, line, _ := strings.Cut(signatures, "— south.example ")
	line, _, _ = strings.Cut(line, "\n")
	signed, err := base64.StdEncoding.DecodeString(line)
	if err != nil || len(signed) != 4+8+64 {
		t.Fatalf("%q is no cosignature: %v", line, err)
	}
	at := int64(binary.BigEndian.Uint64(signed[4:]))
	message := fmt.Sprintf("cosignature/v1\ntime %d\n%s\n", at, body)
	if !ed25519.Verify(key[1:], []byte(message), signed[12:]) {
		t.Error("the cosignature is not of this checkpoint")
	}
	if since := time.Since(time.Unix(at, 0)); since < -time.Minute || since > time.Hour {
		t.Errorf("it is of %s", time.Unix(at, 0))
	}
}
