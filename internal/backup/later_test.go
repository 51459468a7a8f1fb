package backup_test

import (
	"os"
	"testing"
	"time"

	"github.com/google/uuid"

	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/backup"
	"settlemark/internal/commissioning"
	"settlemark/internal/fsck"
	"settlemark/internal/problem"
)

// bench is an open run of the demo with the engineer who holds its pen.
func bench(t *testing.T, d *dbtest.Database) (commissioning.RunID, commissioning.Person) {
	t.Helper()
	conn := dbtest.Connect(t, d.AppURL)
	defer conn.Close(t.Context())
	var run, pen string
	must(t, conn.QueryRow(t.Context(), `select id::text, pen from runs where state = 'open' order by number limit 1`).Scan(&run, &pen))
	people, err := d.People(t.Context())
	must(t, err)
	for _, p := range people {
		if string(p.ID) == pen {
			return commissioning.RunID(run), p
		}
	}
	t.Fatalf("nobody holds the pen of %s", run)
	return "", commissioning.Person{}
}

// notes are n entries with ids of their own.
func notes(n int) (all []commissioning.Entry) {
	for range n {
		all = append(all, commissioning.Entry{
			ID: uuid.Must(uuid.NewV7()).String(), Kind: commissioning.KindNote, Text: "the jet is straight", ObservedAt: time.Now().Add(-time.Minute),
		})
	}
	return all
}

// later adds entries to a run and seals them.
func later(t *testing.T, d *dbtest.Database, acts *act.Acts) []commissioning.Entry {
	t.Helper()
	run, engineer := bench(t, d)
	all := notes(5)
	for _, e := range all {
		_, err := acts.Record(t.Context(), act.Author{Person: engineer, Device: "tablet 1"}, run, []commissioning.Entry{e}, time.Now())
		must(t, err)
	}
	must(t, sealAll(t.Context(), acts))
	return all
}

func TestAfterRestore(t *testing.T) {
	ctx := t.Context()
	d := dbtest.New(t)
	acts := actsOn(t, d.DB)
	run, engineer := bench(t, d)
	tablet := act.Author{Person: engineer, Device: "tablet 1"}
	before := notes(3)
	_, err := acts.Record(ctx, tablet, run, before, time.Now())
	must(t, err)
	must(t, sealAll(ctx, acts))
	f := create(t, d, backup.Key{})
	missing := later(t, d, acts)
	newest, err := os.ReadFile(acts.Log.HighWater())
	must(t, err)

	r, address := restored(t, d, f)
	if len(r.Faults) > 0 {
		t.Fatalf("%v", r.Faults)
	}
	open := dbtest.Open(t, address)
	keys := acts.Log
	acts = actsOn(t, open)
	acts.Log = keys
	t.Run("sealing_stops_because_the_key_signed_more", func(t *testing.T) {
		why, err := acts.AfterRestore(ctx, time.Now())
		must(t, err)
		if trouble, err := acts.LogTrouble(ctx, time.Now()); err != nil || why == "" || trouble.Empty() {
			t.Errorf("%q, %q, %v", why, trouble, err)
		}
	})
	t.Run("entries_sent_again_are_stored_once_and_the_rest_answered_as_before", func(t *testing.T) {
		seq := 0
		for range 3 {
			again, err := acts.Record(ctx, tablet, run, append(before, missing...), time.Now())
			must(t, err)
			if seq != 0 && again.Run.Seq != seq {
				t.Errorf("seq %d, then %d", seq, again.Run.Seq)
			}
			seq = again.Run.Seq
		}
		conn := dbtest.Connect(t, address)
		defer conn.Close(ctx)
		stored := 0
		for _, e := range append(before, missing...) {
			n := 0
			must(t, conn.QueryRow(ctx, `select count(*) from entries where id = $1::uuid`, e.ID).Scan(&n))
			stored += n
		}
		t.Logf("%d entries sent 3 times, %d stored", len(before)+len(missing), stored)
		if stored != len(before)+len(missing) {
			t.Errorf("%d stored", stored)
		}
	})
	t.Run("entries_of_a_run_that_was_opened_after_the_backup_are_refused", func(t *testing.T) {
		unknown := commissioning.RunID(uuid.Must(uuid.NewV7()).String())
		if _, err := acts.Record(ctx, tablet, unknown, notes(1), time.Now()); problem.KindOf(err) != problem.NotFound {
			t.Errorf("%v", err)
		}
	})
	t.Run("the_log_goes_on_in_another_epoch_and_admits_what_is_missing", func(t *testing.T) {
		if _, err := acts.Seal(ctx, time.Now()); problem.KindOf(err) != problem.Conflict {
			t.Errorf("it sealed: %v", err)
		}
		_, err := acts.NewEpoch(ctx, "restored the backup of the night", nil, time.Now())
		must(t, err)
		must(t, sealAll(ctx, acts))
		if why, err := acts.AfterRestore(ctx, time.Now()); err != nil || why != "" {
			t.Errorf("%q, %v", why, err)
		}
		text, err := acts.LogPolicy(ctx)
		must(t, err)
		found, err := fsck.Check(ctx, open, fsck.Outside{Policy: text, Checkpoints: [][]byte{highmark, newest}})
		must(t, err)
		if len(found.Faults) > 0 || found.Waiting > 0 {
			t.Errorf("%v, %d wait", found.Faults, found.Waiting)
		}
	})
	t.Run("without_a_checkpoint_beside_the_key_sealing_stops_too", func(t *testing.T) {
		must(t, os.Remove(acts.Log.HighWater()))
		why, err := acts.AfterRestore(ctx, time.Now())
		must(t, err)
		if why == "" {
			t.Error("it goes on")
		}
	})
}
