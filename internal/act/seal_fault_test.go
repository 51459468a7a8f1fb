package act_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"settlemark/db"
	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/fsck"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
)

// notes collects every checkpoint that was ever signed, kept or lost.
type notes struct {
	mu  sync.Mutex
	all [][]byte
}

func (n *notes) add(signed []byte) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.all = append(n.all, bytes.Clone(signed))
}

// agree holds the log to all of them: then any two are consistent.
func (n *notes) agree(w *world) {
	w.t.Helper()
	text, err := w.LogPolicy(w.t.Context())
	must(w.t, err)
	report, err := fsck.Check(w.t.Context(), w.db.DB, fsck.Outside{Policy: text, Checkpoints: n.all})
	must(w.t, err)
	for _, f := range report.Faults {
		w.t.Error(f)
	}
	if len(n.all) < 2 {
		w.t.Errorf("%d checkpoints were signed, so this shows nothing", len(n.all))
	}
}

// process is another program on the same database, with the same key.
func (w *world) process(open *db.DB, seen *notes) *act.Acts {
	a := act.New(open, slog.New(slog.DiscardHandler), secrets)
	a.Log = w.Log
	a.OnSigned(seen.add)
	return a
}

func TestSealingNeverForks(t *testing.T) {
	ctx := t.Context()
	t.Run("when the process dies between signing and committing", func(t *testing.T) {
		w, seen := newWorld(t), &notes{}
		w.openLog()
		r := w.open("U-1")
		w.seal(evening)
		for i := range 3 {
			w.record(r.ID, remark(fmt.Sprint("before ", i), 2))
			dying := w.process(dbtest.Open(t, w.db.AppURL), seen)
			dying.OnSigned(func(signed []byte) { seen.add(signed); panic("killed") })
			func() {
				defer func() { _ = recover() }()
				_, _ = dying.Seal(ctx, evening)
			}()
			w.record(r.ID, remark(fmt.Sprint("after ", i), 2))
			_, err := w.process(w.db.DB, seen).Seal(ctx, evening)
			must(t, err)
		}
		seen.agree(w)
	})
	for what, how := range map[string]dbtest.Cut{"is not stored": dbtest.NotStored, "is stored and its answer lost": dbtest.AnswerLost} {
		for skip, which := range []string{"growth", "checkpoint"} {
			t.Run("when the commit of the "+which+" "+what, func(t *testing.T) {
				w, seen := newWorld(t), &notes{}
				w.openLog()
				r := w.open("U-1")
				w.OnSigned(seen.add)
				w.seal(evening)
				proxy := dbtest.Through(t, w.db.AppURL)
				broken := w.process(dbtest.Open(t, proxy.URL), seen)
				w.record(r.ID, remark("one", 2))
				proxy.CutCommit(how, skip)
				_, err := broken.Seal(ctx, evening)
				must(t, err)
				if proxy.Cuts() != 1 {
					t.Error("nothing was cut")
				}
				w.record(r.ID, remark("two", 2))
				for { // the server lets go of the lock once it knows that the line is cut
					w.seal(evening)
					waits, err := w.db.LogWaits(ctx)
					must(t, err)
					if !waits {
						break
					}
					time.Sleep(20 * time.Millisecond)
				}
				seen.agree(w)
			})
		}
	}
	t.Run("when the one who holds the lock stands still until the database gives it up", func(t *testing.T) {
		w, seen := newWorld(t), &notes{}
		w.openLog()
		r := w.open("U-1")
		w.OnSigned(seen.add)
		w.seal(evening)
		w.record(r.ID, remark("one", 2))
		still := w.process(dbtest.Open(t, w.db.AppURL), seen)
		holds, woken := make(chan bool), make(chan error)
		var once sync.Once
		still.OnSigned(func(signed []byte) {
			seen.add(signed)
			once.Do(func() { close(holds); time.Sleep(11 * time.Second) }) // the session may idle for 10 s
		})
		go func() {
			_, err := still.Seal(ctx, evening)
			woken <- err
		}()
		<-holds
		if n, err := w.Seal(ctx, evening); n != 0 || err != nil {
			t.Errorf("meanwhile another sealed %d, %v", n, err)
		}
		w.record(r.ID, remark("two", 2))
		<-woken
		w.seal(evening)
		seen.agree(w)
	})
}

// B4 of the promises: no entry is skipped whatever the order of commits, and
// what is written is sealed within half a second.
func TestSealingUnderLoad(t *testing.T) {
	const writers, posts = 8, 25
	w, seen := newWorld(t), &notes{}
	w.openLog()
	ctx, cancel := context.WithCancel(t.Context())
	var sealers, writing sync.WaitGroup
	for range 2 { // two programs, each with the key
		sealer := w.process(dbtest.Open(t, w.db.AppURL), seen)
		sealers.Go(func() {
			for ctx.Err() == nil {
				if _, err := sealer.Seal(context.WithoutCancel(ctx), time.Now()); err != nil && problem.KindOf(err) != problem.Busy && !strings.Contains(err.Error(), "set the clock") {
					t.Error(err)
				}
				time.Sleep(100 * time.Millisecond)
			}
		})
	}
	for n := range writers {
		tag := fmt.Sprint("U-1", n)
		w.unitOrFail(tag)
		r := w.open(tag)
		writing.Go(func() {
			for i := range posts {
				if _, err := w.Record(ctx, act.Author{Person: w.engineer, Device: "tablet"}, r.ID, []commissioning.Entry{remark(fmt.Sprint(i), 2)}, evening); err != nil {
					t.Error(err)
				}
			}
		})
	}
	writing.Wait()
	time.Sleep(500 * time.Millisecond)
	cancel()
	sealers.Wait()
	w.seal(time.Now())
	seen.agree(w)
	conn := dbtest.Connect(t, w.db.AdminURL)
	defer conn.Close(t.Context())
	var sealed int
	var p50, p99 float64
	must(t, conn.QueryRow(t.Context(), `
		select count(*), 1000 * percentile_cont(0.5) within group (order by wait), 1000 * percentile_cont(0.99) within group (order by wait)
		from (select extract(epoch from (select min(c.sealed_at) from log_checkpoints c where c.size > l.place) - p.received_at)::float8 as wait
		  from log_leaves l join posts p on convert_from(l.leaf, 'UTF8') like '{"chain":"' || encode(p.chain, 'hex') || '%') as waits`).Scan(&sealed, &p50, &p99))
	fmt.Printf("figure: %d writers, %d posts written, %d in the log, sealed after %.0f ms (half), %.0f ms (99 of 100)\n", writers, writers*posts, sealed, p50, p99)
	if sealed != writers*posts {
		t.Errorf("%d of %d posts are in the log", sealed, writers*posts)
	}
}

func TestRotateLogKey(t *testing.T) {
	ctx := t.Context()
	w := newWorld(t)
	w.openLog()
	w.seal(evening)
	before := w.released("U-1")
	w.seal(evening)
	old := w.policy()
	oldText, err := w.LogPolicy(ctx)
	must(t, err)
	_, err = w.RotateLogKey(ctx, evening)
	must(t, err)
	refused(t, w.RetireLogKey(ctx), problem.Conflict) // it has signed nothing yet
	both := w.released("U-1")
	w.seal(evening)
	text, err := w.LogPolicy(ctx)
	must(t, err)
	alone := slices.DeleteFunc(strings.Split(text, "\n"), func(line string) bool { return strings.Contains(oldText, line) })
	next, err := ledger.ReadPolicy([]byte(strings.Join(alone, "\n") + "\nquorum none\n"))
	must(t, err)
	stranger := newWorld(t)
	stranger.openLog()
	believes := func(n commissioning.CertificateNumber, p ledger.Policy) bool {
		proof, _ := w.proven(n)
		document, err := w.db.Document(ctx, n)
		must(t, err)
		_, err = proof.Check(ledger.CertificateLeaf(string(n), document), p)
		return err == nil
	}
	t.Run("in between, readers with the old, the new and both keys believe, strangers do not", func(t *testing.T) {
		for _, n := range []commissioning.CertificateNumber{before, both} {
			if !believes(n, old) || !believes(n, next) || !believes(n, w.policy()) || believes(n, stranger.policy()) {
				t.Errorf("%s: old %t, new %t, both %t, a stranger %t", n, believes(n, old), believes(n, next), believes(n, w.policy()), believes(n, stranger.policy()))
			}
		}
	})
	t.Run("a second rotation waits for the first", func(t *testing.T) {
		_, err := w.RotateLogKey(ctx, evening)
		refused(t, err, problem.Conflict)
	})
	t.Run("afterwards the new key alone signs", func(t *testing.T) {
		must(t, w.RetireLogKey(ctx))
		after := w.released("U-1")
		w.seal(evening)
		if believes(after, old) || !believes(after, next) || !believes(after, w.policy()) {
			t.Errorf("old %t, new %t, both %t", believes(after, old), believes(after, next), believes(after, w.policy()))
		}
	})
}

func TestNewEpoch(t *testing.T) {
	ctx := t.Context()
	highWater := func(w *world) string { return filepath.Join(filepath.Dir(w.Log.Key), "log.high-water") }
	checked := func(t *testing.T, w *world, outside ...[]byte) []string {
		text, err := w.LogPolicy(ctx)
		must(t, err)
		report, err := fsck.Check(ctx, w.db.DB, fsck.Outside{Policy: text, Checkpoints: outside})
		must(t, err)
		return report.Faults
	}
	t.Run("after a restore the log goes on under another name and admits what is missing", func(t *testing.T) {
		w := worldOn(t, dbtest.Unsound(t))
		w.openLog()
		first := w.released("U-1")
		w.unitOrFail("U-2")
		w.unitOrFail("U-3")
		w.seal(evening)
		state, err := w.db.LogState(ctx)
		must(t, err)
		r := w.open("U-2")
		w.seal(evening)
		lost, err := os.ReadFile(highWater(w))
		must(t, err)
		w.setBack(r, state.Size)
		if faults := checked(t, w, lost); len(faults) == 0 {
			t.Error("the loss is not found")
		}
		w.open("U-3")
		_, err = w.Seal(ctx, evening)
		refused(t, err, problem.Conflict)
		origin, err := w.NewEpoch(ctx, "restored the backup of the night", nil, evening)
		must(t, err)
		second := w.released("U-1")
		w.seal(evening)
		_, c := w.proven(second)
		if c.Origin != origin || !strings.HasSuffix(origin, "/2") {
			t.Errorf("the log is %s, the checkpoint of %s", origin, c.Origin)
		}
		if _, c := w.proven(first); !strings.HasSuffix(c.Origin, "/1") {
			t.Errorf("the first certificate is proven by %s", c.Origin)
		}
		if faults := checked(t, w, lost); len(faults) > 0 {
			t.Errorf("what was admitted is no fault: %v", faults)
		}
		if trouble, err := w.LogTrouble(ctx, evening); err != nil || !trouble.Empty() {
			t.Errorf("%q, %v", trouble, err)
		}
	})
	t.Run("after the loss of the key the log goes on and nothing is missing", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		first := w.released("U-1")
		w.seal(evening)
		must(t, os.Remove(w.Log.Key))
		must(t, os.Remove(highWater(w)))
		_, err := w.NewEpoch(ctx, "the disk with the key broke", nil, evening)
		must(t, err)
		w.seal(evening)
		w.proven(first)
		leaf := ""
		conn := dbtest.Connect(t, w.db.AppURL)
		defer conn.Close(ctx)
		must(t, conn.QueryRow(ctx, `select convert_from(leaf, 'UTF8') from log_leaves where epoch = 2 and place = 0`).Scan(&leaf))
		if !strings.Contains(leaf, `"t":"restore/1"`) || !strings.Contains(leaf, "the disk with the key broke") {
			t.Errorf("it begins with %s", leaf)
		}
	})
	t.Run("a process that died before it could put the new key in place does so later", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		w.seal(evening)
		_, err := w.NewEpoch(ctx, "drill", nil, evening)
		must(t, err)
		must(t, os.Rename(w.Log.Key, w.Log.Key+".next"))
		must(t, os.Rename(w.Log.Key+".1", w.Log.Key))
		must(t, w.OpenLog(ctx, evening))
		w.open("U-1")
		if w.seal(evening) == 0 {
			t.Error("nothing was sealed")
		}
	})
	t.Run("it needs a reason", func(t *testing.T) {
		w := newWorld(t)
		w.openLog()
		_, err := w.NewEpoch(ctx, " ", nil, evening)
		refused(t, err, problem.Invalid)
	})
}

// setBack takes away a run and what the log says of it, as a restore would.
func (w *world) setBack(r commissioning.Run, size int64) {
	id := "'" + string(r.ID) + "'"
	all := []string{}
	for _, table := range []string{"acts", "contributors", "runs", "log_checkpoints", "log_leaves", "log_nodes"} {
		all = append(all, "alter table settlemark."+table+" disable trigger all")
	}
	dbtest.Exec(w.t, w.db.AdminURL, append(all, "delete from acts where run_id = "+id, "delete from contributors where run_id = "+id,
		"delete from runs where id = "+id,
		"delete from log_outbox", // as it was then: what rode into the tree at that size was still to come
		fmt.Sprintf("insert into log_outbox (leaf, rides) select leaf, true from log_leaves where place = %d", size),
		"update counters set last = last - 1 where name = 'run'",
		fmt.Sprintf("delete from log_checkpoints where size > %d", size), fmt.Sprintf("delete from log_leaves where place >= %d", size),
		fmt.Sprintf("delete from log_nodes where place >= 2 * %[1]d - bit_count(%[1]d::bigint::bit(64))", size),
		fmt.Sprintf("update log_heads set size = %[1]d, signed = %[1]d, published = %[1]d", size))...)
	for _, table := range []string{"acts", "contributors", "runs", "log_checkpoints", "log_leaves", "log_nodes"} {
		dbtest.Exec(w.t, w.db.AdminURL, "alter table settlemark."+table+" enable trigger all")
	}
}

func TestCosigned(t *testing.T) {
	ctx := t.Context()
	w := newWorld(t)
	w.openLog()
	witness, err := ledger.NewCosigner(rand.Reader, "witness.example")
	must(t, err)
	w.Log.Witnesses = "witness south " + witness.VerifierKey() + " http://witness.example\nquorum south\n"
	n := w.released("U-1")
	w.seal(evening)
	if _, err := w.db.CertificateProof(ctx, n); problem.KindOf(err) != problem.Busy {
		t.Errorf("without the witness that the policy asks for: %v", err)
	}
	newest, err := w.ToWitness(ctx, 0)
	must(t, err)
	stranger, err := ledger.NewCosigner(rand.Reader, "witness.example")
	must(t, err)
	must(t, w.Cosigned(ctx, newest, []byte(stranger.Cosign(newest.Checkpoint, evening))))
	if _, err := w.db.CertificateProof(ctx, n); problem.KindOf(err) != problem.Busy {
		t.Errorf("with a stranger's line: %v", err)
	}
	must(t, w.Cosigned(ctx, newest, []byte(witness.Cosign(newest.Checkpoint, evening))))
	proof, _ := w.proven(n)
	cosigned, err := ledger.Cosignatures(proof.Checkpoint, w.policy())
	must(t, err)
	if len(cosigned) != 1 || cosigned[0].Witness != "south" || !cosigned[0].At.Equal(evening) {
		t.Errorf("cosigned by %v", cosigned)
	}
}
