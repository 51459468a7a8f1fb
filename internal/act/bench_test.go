package act_test

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/fsck"
	"settlemark/internal/trial"
)

// What the log costs those who write: the same posts with and without it, in
// turns of one run, so that both meet the same machine. A turn holds as many
// posts as come between two seals.
const (
	posts   = 40
	entries = 20
)

var turns = trial.Times(2, 12)

func ingest(t *testing.B) (with, without time.Duration) {
	writers := map[string]*writer{}
	for _, name := range []string{"with", "without"} {
		w := worldOn(t, dbtest.Unsound(t))
		writers[name] = &writer{world: w, run: w.open("U-1")}
	}
	writers["with"].Log = act.Log{Key: filepath.Join(t.TempDir(), "log.key"), Host: "press.example"}
	must(t, writers["with"].OpenLog(t.Context(), evening))
	for _, table := range []string{"entries", "acts", "contributors"} {
		dbtest.Exec(t, writers["without"].db.AdminURL, "alter table settlemark."+table+" disable trigger all")
	}
	for range turns {
		with += writers["with"].turn()
		without += writers["without"].turn()
	}
	n := time.Duration(turns * posts)
	return with / n, without / n
}

type writer struct {
	*world
	run commissioning.Run
}

func (w *writer) turn() time.Duration {
	begun := time.Now()
	for range posts {
		batch := make([]commissioning.Entry, entries)
		for i := range batch {
			batch[i] = viscosity("4.60", i)
		}
		_, err := w.Record(w.t.Context(), act.Author{Logger: &w.logger}, w.run.ID, batch, evening)
		must(w.t, err)
	}
	_, err := w.Seal(w.t.Context(), evening)
	must(w.t, err)
	return time.Since(begun)
}

func BenchmarkIngest(b *testing.B) {
	with, without := ingest(b)
	b.Run("post_of_20/with_the_log", func(b *testing.B) {
		b.ReportMetric(float64(with), "ns/op")
		b.ReportMetric(1/0.85, "x-at-most") // 85 % of the readings a second
	})
	b.Run("post_of_20/without", func(b *testing.B) {
		b.ReportMetric(float64(without), "ns/op")
	})
}

// A round of sealing as it is when logs pour in, and as it mostly is.
func BenchmarkSeal(b *testing.B) {
	for _, leaves := range []int{1, act.SealBatch} {
		b.Run(fmt.Sprintf("round_of_%d/leaves", leaves), func(b *testing.B) {
			w := worldOn(b, dbtest.Unsound(b))
			w.openLog()
			w.seal(evening)
			for b.Loop() {
				b.StopTimer()
				dbtest.Exec(b, w.db.AdminURL, fmt.Sprintf(
					`insert into log_outbox (leaf) select convert_to('{"n":' || n || '}', 'UTF8') from generate_series(1, %d) as n`, leaves))
				b.StartTimer()
				n, err := w.Seal(b.Context(), evening)
				if must(b, err); n < int64(leaves) { // the checkpoint before rides along
					b.Fatalf("sealed %d", n)
				}
			}
		})
	}
}

// The check of a whole record, scaled from 10,000 entries to 100,000.
func BenchmarkFsck(b *testing.B) {
	w := worldOn(b, dbtest.Unsound(b))
	w.openLog()
	r := w.open("U-1")
	for range 10 {
		batch := make([]commissioning.Entry, 1000)
		for i := range batch {
			batch[i] = viscosity("4.60", i%100)
		}
		_, err := w.Record(b.Context(), act.Author{Logger: &w.logger}, r.ID, batch, evening)
		must(b, err)
	}
	w.seal(evening)
	b.Run("100,000_entries/whole_record", func(b *testing.B) {
		begun := time.Now()
		for b.Loop() {
			report, err := fsck.Check(b.Context(), w.db.DB, fsck.Outside{})
			must(b, err)
			if len(report.Faults) > 0 || report.Entries != 10_000 {
				b.Fatalf("%d entries, %v", report.Entries, report.Faults)
			}
		}
		b.ReportMetric(10*float64(time.Since(begun))/float64(b.N), "ns/op")
	})
}
