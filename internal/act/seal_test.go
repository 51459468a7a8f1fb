package act_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
)

// openLog gives the world a log of its own.
func (w *world) openLog() {
	w.t.Helper()
	w.Log = act.Log{Key: filepath.Join(w.t.TempDir(), "keys", "log.key"), Host: "press.example"}
	must(w.t, w.OpenLog(w.t.Context(), evening))
}

// seal seals all that waits.
func (w *world) seal(now time.Time) (sealed int64) {
	w.t.Helper()
	for {
		n, err := w.Seal(w.t.Context(), now)
		must(w.t, err)
		if sealed += n; n == 0 {
			return sealed
		}
	}
}

func (w *world) policy() ledger.Policy {
	w.t.Helper()
	text, err := w.LogPolicy(w.t.Context())
	must(w.t, err)
	p, err := ledger.ReadPolicy([]byte(text))
	must(w.t, err)
	return p
}

// proven checks the certificate's proof as a stranger with the policy would.
func (w *world) proven(n commissioning.CertificateNumber) (ledger.Proof, ledger.Checkpoint) {
	w.t.Helper()
	text, err := w.db.CertificateProof(w.t.Context(), n)
	must(w.t, err)
	proof, err := ledger.ReadProof(text)
	must(w.t, err)
	document, err := w.db.Document(w.t.Context(), n)
	must(w.t, err)
	c, err := proof.Check(ledger.CertificateLeaf(string(n), document), w.policy())
	must(w.t, err)
	return proof, c
}

func TestSeal(t *testing.T) {
	t.Run("a release is proven once it is sealed", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		w.seal(evening)
		n := w.released("U-1")
		if _, err := w.db.CertificateProof(t.Context(), n); problem.KindOf(err) != problem.Busy {
			t.Errorf("before it is sealed: %v", err)
		}
		sealedAt := evening.Add(time.Second)
		if w.seal(sealedAt) == 0 {
			t.Error("nothing was sealed")
		}
		proof, c := w.proven(n)
		if !strings.HasPrefix(c.Origin, "press.example/") || !strings.HasSuffix(c.Origin, "/1") || !c.Sealed.Equal(sealedAt) {
			t.Errorf("checkpoint %+v", c)
		}
		if proof.Index >= c.Size || len(proof.Hashes) == 0 {
			t.Errorf("leaf %d of %d", proof.Index, c.Size)
		}
	})
	t.Run("nothing new is not sealed again", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		w.seal(evening)
		if n := w.seal(evening.Add(time.Hour)); n != 0 {
			t.Errorf("sealed %d", n)
		}
	})
	t.Run("a process without a key seals nothing", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		w.Log.Key = filepath.Join(t.TempDir(), "none")
		if n := w.seal(evening); n != 0 {
			t.Errorf("sealed %d", n)
		}
	})
	t.Run("the key file is private and no key is in the database", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		about, err := os.Stat(w.Log.Key)
		must(t, err)
		if about.Mode().Perm() != 0o600 {
			t.Errorf("mode %s", about.Mode())
		}
		keys, err := w.db.LogKeys(t.Context())
		must(t, err)
		if len(keys) != 1 || strings.Contains(fmt.Sprint(keys), "PRIVATE") {
			t.Errorf("keys %v", keys)
		}
		must(t, os.Chmod(w.Log.Key, 0o640))
		if _, err := w.Seal(t.Context(), evening); problem.KindOf(err) != problem.Conflict {
			t.Errorf("with a key that others can read: %v", err)
		}
	})
	t.Run("opening again keeps the log", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		w.seal(evening)
		before, err := w.db.LogState(t.Context())
		must(t, err)
		must(t, w.OpenLog(t.Context(), evening))
		after, err := w.db.LogState(t.Context())
		must(t, err)
		if before.Origin != after.Origin || after.Epoch != 1 {
			t.Errorf("it was %+v and is %+v", before, after)
		}
	})
}

func TestSealingStops(t *testing.T) {
	later := evening.Add(time.Minute)
	for what, harm := range map[string]struct {
		do   func(w *world)
		says string
	}{
		"when the database is older than the newest checkpoint": {func(w *world) {
			w.superuser(`delete from log_checkpoints where size > 1`, `update log_heads set size = 1, signed = 1, published = 1`,
				`delete from log_leaves where place > 0`, `delete from log_nodes where place > 0`)
		}, "does not continue the newest checkpoint beside the key"},
		"when a leaf was changed": {func(w *world) {
			w.superuser(`update log_nodes set hash = sha256('x')`)
		}, "does not continue"},
		"when the newest checkpoint in the database is another": {func(w *world) {
			w.superuser(`update log_checkpoints set signed = 'x'`)
		}, "in the database is not one that this key signed"},
		"when the key is of another log": {func(w *world) {
			other := newWorld(w.t)
			other.openLog()
			w.Log.Key = other.Log.Key
		}, "bring together what belongs together"},
		"when the clock goes back": {func(w *world) { later = evening.Add(-time.Second) }, "set the clock"},
		"when the newest checkpoint can't be kept": {func(w *world) {
			high := filepath.Join(filepath.Dir(w.Log.Key), "log.high-water")
			must(w.t, os.Remove(high))
			must(w.t, os.Mkdir(high, 0o700))
		}, "beside the key can't be read"},
	} {
		t.Run(what, func(t *testing.T) {
			later = evening.Add(time.Minute)
			w := worldOn(t, dbtest.Unsound(t))
			w.openLog()
			w.seal(evening)
			harm.do(w)
			run := w.open("U-1")
			var signed int
			w.OnSigned(func([]byte) { signed++ })
			_, err := w.Seal(t.Context(), later)
			refused(t, err, problem.Conflict)
			if err == nil || !strings.Contains(err.Error(), harm.says) || signed != 0 {
				t.Errorf("signed %d; %v", signed, err)
			}
			trouble, err := w.LogTrouble(t.Context(), later)
			must(t, err)
			if !strings.HasPrefix(trouble.String(), "Sealing stopped since ") || !strings.Contains(trouble.String(), harm.says) {
				t.Errorf("trouble: %q", trouble)
			}
			w.record(run.ID, remark("the rest goes on", 2))
		})
	}
	t.Run("and goes on by itself when the cause is gone", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		w.seal(evening)
		w.open("U-1")
		_, err := w.Seal(t.Context(), evening.Add(-time.Second))
		refused(t, err, problem.Conflict)
		w.seal(evening.Add(time.Second))
		if trouble, err := w.LogTrouble(t.Context(), evening); err != nil || !trouble.Empty() {
			t.Errorf("%q, %v", trouble, err)
		}
	})
}

// superuser plays somebody with all rights who switches the triggers off.
func (w *world) superuser(statements ...string) {
	w.t.Helper()
	all := []string{}
	for _, table := range []string{"log_checkpoints", "log_leaves", "log_nodes", "log_heads", "log_epochs", "log_keys"} {
		all = append(all, "alter table settlemark."+table+" disable trigger all")
	}
	dbtest.Exec(w.t, w.db.AdminURL, append(all, statements...)...)
}
