package witness_test

import (
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"settlemark/internal/ledger"
	"settlemark/internal/witness"
)

// aLog is a log whose leaves are numbers.
type aLog struct {
	t      *testing.T
	origin string
	signer note.Signer
	vkey   string
	tree   *ledger.Tree
}

func newLog(t *testing.T, origin string, leaves int) *aLog {
	skey, vkey, err := note.GenerateKey(rand.Reader, origin)
	if err != nil {
		t.Fatal(err)
	}
	signer, err := note.NewSigner(skey)
	if err != nil {
		t.Fatal(err)
	}
	l := &aLog{t: t, origin: origin, signer: signer, vkey: vkey, tree: ledger.NewTree(0, func([]int64) ([]tlog.Hash, error) {
		return nil, errors.New("nothing else is stored")
	})}
	for i := range leaves {
		if err := l.tree.Append(fmt.Append(nil, i)); err != nil {
			t.Fatal(err)
		}
	}
	return l
}

// submission shows the log at a size to a witness that saw it at old.
func (l *aLog) submission(old, size int64) ledger.Submission {
	l.t.Helper()
	root, err := l.tree.RootAt(size)
	if err != nil {
		l.t.Fatal(err)
	}
	signed, err := ledger.SignCheckpoint(ledger.Checkpoint{Origin: l.origin, Size: size, Root: root, Sealed: time.Unix(5, 0)}, l.signer)
	if err != nil {
		l.t.Fatal(err)
	}
	s := ledger.Submission{Old: old, Checkpoint: signed}
	if old > 0 && old < size {
		if s.Proof, err = tlog.ProveTree(size, old, l.tree); err != nil {
			l.t.Fatal(err)
		}
	}
	return s
}

func TestWitness(t *testing.T) {
	l := newLog(t, "press.example/1/1", 40)
	key, err := ledger.NewCosigner(rand.Reader, "south.example")
	if err != nil {
		t.Fatal(err)
	}
	policy, err := ledger.ReadPolicy([]byte("log " + l.vkey + "\nwitness south " + key.VerifierKey() + "\nquorum south\n"))
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	dir := t.TempDir()
	serve := func() *httptest.Server { // a new one knows only what the one before kept
		w := &witness.Witness{Policy: policy, Key: key, Dir: dir, Now: func() time.Time { return at }, Log: slog.New(slog.DiscardHandler)}
		server := httptest.NewServer(w.Handler())
		t.Cleanup(server.Close)
		return server
	}
	ask := func(s ledger.Submission) error {
		lines, err := witness.Ask(t.Context(), serve().URL, s)
		if err == nil {
			_, err = ledger.OpenCheckpoint(append(s.Checkpoint, lines...), policy)
		}
		return err
	}
	expect := func(what string, err error, says string) {
		t.Helper()
		if says == "" && err != nil || says != "" && (err == nil || !strings.Contains(err.Error(), says)) {
			t.Errorf("%s: %v", what, err)
		}
	}
	expect("the first checkpoint", ask(l.submission(0, 10)), "")
	expect("one that continues it", ask(l.submission(10, 25)), "")
	expect("the same again", ask(l.submission(25, 25)), "")
	var other *witness.OtherSizeError
	if err := ask(l.submission(10, 30)); !errors.As(err, &other) || other.Size != 25 {
		t.Errorf("from an older size: %v", err)
	}
	expect("a smaller one", ask(l.submission(25, 20)), "400")
	if err := ask(l.submission(0, 20)); !errors.As(err, &other) {
		t.Errorf("back to an older size: %v", err)
	}
	wrong := l.submission(25, 30)
	wrong.Proof[0][0] ^= 1
	expect("with a wrong proof", ask(wrong), "does not continue")
	wrong = l.submission(25, 30)
	wrong.Proof = nil
	expect("without a proof", ask(wrong), "does not continue")
	fork := newLog(t, "press.example/1/1", 25)
	fork.signer = l.signer
	if err := fork.tree.Append([]byte("other")); err != nil {
		t.Fatal(err)
	}
	expect("a proper continuation after all that", ask(l.submission(25, 26)), "")
	expect("a fork of the same size", ask(fork.submission(26, 26)), "it has seen others")
	stranger := newLog(t, "press.example/1/1", 40)
	expect("a stranger's signature", ask(stranger.submission(26, 40)), "403")
	expect("an unknown log", ask(newLog(t, "other.example", 5).submission(0, 5)), "404")
	for _, body := range []string{"", "old 26\n", "old 026\n\n", "old -1\n\nx", "new 1\n\nx", "old 1\nshort\n\nx", strings.Repeat("x", 1<<17)} {
		answer, err := http.Post(serve().URL+"/add-checkpoint", "", strings.NewReader(body))
		if err != nil || answer.StatusCode < 400 || answer.StatusCode >= 500 {
			t.Errorf("%.20q: %v, %v", body, answer, err)
		}
	}
	answer, err := http.Get(serve().URL + "/add-checkpoint")
	if err != nil || answer.StatusCode != http.StatusMethodNotAllowed {
		t.Errorf("GET: %v, %v", answer, err)
	}
}
