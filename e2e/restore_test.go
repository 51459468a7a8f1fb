package e2e_test

import (
	"crypto/ed25519"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A backup through its commands and a restore into a database of the
// environment, as where others run the server: what was written after the
// backup is sent again and is in the record once.
func TestRestore(t *testing.T) {
	t.Parallel()
	data, err := newData()
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(data)
	a := mustLaunch(t, data)
	defer func() { _ = a.stop() }()
	marit := visitAs(t, a, "marit")
	book := marit.opens("BH-03", "return-to-service/1")
	dir := t.TempDir()
	kept := func(name, path string) string {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, []byte(awaited(marit, path)), 0o600); err != nil {
			t.Fatal(err)
		}
		return file
	}
	policy := kept("policy.txt", "/log/policy.txt")
	checkpoint := kept("checkpoint", "/log/checkpoint")
	sent := sendings(book)
	for _, s := range sent[:2] {
		s.taken(marit)
	}
	time.Sleep(time.Second) // sealed

	foreign := func(name string) []string {
		return []string{
			"DATABASE_URL=postgres://settlemark_app@/" + name + "?host=" + data + "/run",
			"DATABASE_OWNER_URL=postgres://settlemark_owner@/" + name + "?host=" + data + "/run",
		}
	}
	file := filepath.Join(dir, "record.backup")
	t.Run("a server that others run is backed up by its addresses", func(t *testing.T) {
		says(t, 1, "Set DATABASE_OWNER_URL", foreign("settlemark")[:1], "backup", file)
		says(t, 0, "rows of", foreign("settlemark"), "backup", file)
	})
	for _, s := range sent[2:] { // after the backup
		s.taken(marit)
	}
	t.Run("a drill proves it, and its report is signed by the log", func(t *testing.T) {
		report := filepath.Join(dir, "report.txt")
		says(t, 0, "signed with the log's key", []string{"SETTLEMARK_DATA=" + data},
			"restore-drill", file, "--checkpoint", checkpoint, "--policy", policy, "--report", report)
		signedBy(t, policy, report)
	})

	restored := data + "-restored"
	defer os.RemoveAll(restored)
	if err := os.Mkdir(restored, 0o755); err != nil {
		t.Fatal(err)
	}
	run(t, "cp", "-a", filepath.Join(data, "keys"), restored)
	run(t, tool(t, "psql", "postgresql-client"), "-q", "-d", "postgres://postgres@/postgres?host="+data+"/run", "-c", "create database restored owner settlemark_owner")
	there := append(foreign("restored"), "SETTLEMARK_DATA="+restored)
	t.Run("it goes into an empty database, and sealing stops: the key signed more", func(t *testing.T) {
		out := says(t, 0, "done", there, "restore", file, "--policy", policy)
		if !strings.Contains(out, "Sealing stopped: the log does not continue the newest checkpoint beside the key") {
			t.Error(out)
		}
		says(t, 1, "The database is not empty", there, "restore", file)
	})
	t.Run("what is sent again is stored once, forms and JSON", func(t *testing.T) {
		b := mustLaunch(t, restored, append(foreign("restored"), "SETTLEMARK_DEMO=0")...)
		defer func() { _ = b.stop() }()
		b.password, b.apps, b.data, b.owner = a.password, a.apps, data, a.owner // the server of both databases is there
		v := visitAs(t, b, "marit")
		before := len(v.logbook(book).Entries)
		for range 3 {
			for _, s := range sent {
				s.taken(v)
			}
		}
		stored := map[string]int{}
		for _, e := range v.logbook(book).Entries {
			stored[e.ID]++
		}
		for _, s := range sent {
			if stored[s.id] != 1 {
				t.Errorf("%s is stored %d times", s.id, stored[s.id])
			}
		}
		if before+len(sent)-2 != len(v.logbook(book).Entries) {
			t.Errorf("%d entries, then %d", before, len(v.logbook(book).Entries))
		}
		fmt.Printf("figure: %d entries sent 3 times after a restore, %d of them lost by it, each stored once\n", len(sent), len(sent)-2)
		says(t, 0, "The log goes on as", append(there, "SETTLEMARK_DEMO=0"), "log-epoch", "new", "--reason", "restored")
		for range 100 {
			if v.get("/log/2/checkpoint").status == http.StatusOK {
				break
			}
			time.Sleep(100 * time.Millisecond)
		}
		says(t, 0, "sound", there, "fsck", "--checkpoint", checkpoint)
	})
}

// sending is an entry on its way, as a browser's form or as JSON.
type sending struct {
	id, path, media, body string
}

func sendings(book string) []sending {
	var all []sending
	for n := range 6 {
		s := sending{id: fmt.Sprintf("01970000-0000-7000-8000-%012x", n), path: "/runs/" + book + "/entries"}
		if n%2 == 0 {
			s.media = "application/x-www-form-urlencoded"
			s.body = url.Values{"id": {s.id}, "form": {"note"}, "kind": {"note"}, "text": {fmt.Sprintf("Note %d.", n)}}.Encode()
		} else {
			s.media = "application/json"
			body, _ := json.Marshal(map[string]string{
				"id": s.id, "kind": "note", "text": fmt.Sprintf("Note %d.", n), "observed_at": time.Now().UTC().Format(time.RFC3339),
			})
			s.body = string(body)
		}
		all = append(all, s)
	}
	return all
}

// taken sends it and wants it to be acknowledged.
func (s sending) taken(v *visitor) {
	v.t.Helper()
	got := v.request(http.MethodPost, s.path, s.media, strings.NewReader(s.body))
	if want := map[bool]int{true: http.StatusOK, false: http.StatusSeeOther}[s.media == "application/json"]; got.status != want {
		v.t.Fatalf("%s: %d %s %v", s.body, got.status, got.body, got.sentences())
	}
}

// says runs a command and wants its status and a sentence of it.
func says(t *testing.T, status int, sentence string, env []string, args ...string) string {
	t.Helper()
	cmd := exec.Command(program, args...)
	cmd.Env = append([]string{"PATH=" + os.Getenv("PATH"), "TMPDIR=" + os.TempDir()}, env...)
	out, _ := cmd.CombinedOutput()
	if cmd.ProcessState.ExitCode() != status || !strings.Contains(string(out), sentence) {
		t.Errorf("%v: status %d, it says\n%s", args, cmd.ProcessState.ExitCode(), out)
	}
	return string(out)
}

// signedBy checks a signed note as C2SP signed-note describes it.
func signedBy(t *testing.T, policy, file string) {
	t.Helper()
	keys, err := os.ReadFile(policy)
	if err != nil {
		t.Fatal(err)
	}
	_, line, _ := strings.Cut(string(keys), "log ")
	vkey, _, _ := strings.Cut(line, "\n")
	name, rest, _ := strings.Cut(vkey, "+")
	_, encoded, _ := strings.Cut(rest, "+")
	key, err := base64.StdEncoding.DecodeString(encoded)
	if err != nil || len(key) != 33 || key[0] != 1 {
		t.Fatalf("%q is no Ed25519 key: %v", vkey, err)
	}
	note, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	text, signatures, _ := strings.Cut(string(note), "\n\n— "+name+" ")
	signature, err := base64.StdEncoding.DecodeString(strings.TrimSpace(signatures))
	if err != nil || len(signature) != 4+64 || !ed25519.Verify(key[1:], []byte(text+"\n"), signature[4:]) {
		t.Errorf("the log's key did not sign %s: %v", note, err)
	}
	if !strings.HasPrefix(text, "restore-drill/1\n") || !strings.Contains(text, "proven: a restore") {
		t.Errorf("the report says %s", text)
	}
}
