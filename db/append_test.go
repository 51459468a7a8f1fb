package db_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"settlemark/db"
	"settlemark/db/dbtest"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
)

// aPerson may record in the run of oneRun, whose opening is not ours.
var aPerson = []string{
	oneRun[0], oneRun[1], oneRun[2], oneRun[3], oneRun[4], oneRun[5],
	`insert into grants values ('P-0001', 'engineer', 1)`,
	`insert into procedure_approvals (key, revision, person_id, name, method, approved_at) values ('p', 1, 'P-0002', '', '', now())`,
}

// The database and package ledger compute one chain, whatever is posted.
func TestAppend(t *testing.T) {
	d := dbtest.Unsound(t) // the procedure of this run is empty
	dbtest.Exec(t, d.OwnerURL, aPerson...)
	run := commissioning.RunID("01890000-0000-7000-8000-000000000001")
	opening := []byte(`{"bench":"","unit":{"line":"","tag":"U-1"}}`)
	must(t, d.InTx(t.Context(), func(tx *db.Tx) error {
		return tx.OpenRun(t.Context(), commissioning.Opening{
			Run: run, OpenedBy: "P-0001", OpenedAt: time.Now(),
			Unit: commissioning.OpeningUnit{Tag: "U-1"}, Procedure: commissioning.OpeningProcedure{Key: "p", Revision: 1},
		}, opening)
	}))
	head, seq := ledger.Opening(opening), 0
	var stored []byte
	rapid.Check(t, func(rt *rapid.T) {
		posting := db.Posting{Run: run, Person: "P-0001"}
		for _, text := range rapid.SliceOfN(rapid.StringN(1, 200, -1), 1, 6).Draw(rt, "texts") {
			if bytes.ContainsRune([]byte(text), 0) {
				rt.Skip("no NUL is decoded")
			}
			e := commissioning.Entry{
				ID: uuid.Must(uuid.NewV7()).String(), Kind: commissioning.KindNote, Text: text, By: "P-0001", ObservedAt: time.Now().UTC(),
			}
			body, err := ledger.Body(e)
			if err != nil {
				rt.Skip("not canonical")
			}
			sum := sha256.Sum256(body)
			posting.Bodies, posting.SentHashes = append(posting.Bodies, body), append(posting.SentHashes, sum[:])
		}
		seq += len(posting.Bodies)
		head = ledger.Link(head, seq, ledger.Post(posting.Bodies))
		err := d.InTx(context.Background(), func(tx *db.Tx) error {
			if _, err := tx.Append(context.Background(), posting); err != nil {
				return err
			}
			r, err := tx.LockRun(context.Background(), run)
			stored = r.Head
			return err
		})
		if err != nil || !bytes.Equal(stored, head) {
			rt.Fatalf("seq %d: database %x, ledger %x, %v", seq, stored, head, err)
		}
	})
	t.Run("an entry in somebody else's name is refused", func(t *testing.T) {
		e := commissioning.Entry{ID: uuid.NewString(), Kind: commissioning.KindNote, Text: "x", By: "P-0002", ObservedAt: time.Now()}
		body, err := ledger.Body(e)
		must(t, err)
		err = d.InTx(t.Context(), func(tx *db.Tx) error {
			_, err := tx.Append(t.Context(), db.Posting{Run: run, Person: "P-0001", SentHashes: [][]byte{head}, Bodies: [][]byte{body}})
			return err
		})
		if problem.KindOf(err) != problem.Forbidden {
			t.Errorf("got %v", err)
		}
	})
}

func TestInTx(t *testing.T) {
	d := dbtest.New(t)
	t.Run("runs again after a serialization failure and a deadlock", func(t *testing.T) {
		for _, state := range []string{"40001", "40P01"} {
			runs := 0
			err := d.InTx(t.Context(), func(tx *db.Tx) error {
				if runs++; runs < 3 {
					return tx.Raise(t.Context(), state)
				}
				return nil
			})
			if err != nil || runs != 3 {
				t.Errorf("%s: %d runs, %v", state, runs, err)
			}
		}
	})
	t.Run("gives up after eight, and says that nothing was stored", func(t *testing.T) {
		runs := 0
		err := d.InTx(t.Context(), func(tx *db.Tx) error { runs++; return tx.Raise(t.Context(), "40001") })
		if problem.KindOf(err) != problem.Busy || runs != 8 {
			t.Errorf("%d runs, %v", runs, err)
		}
	})
	t.Run("does not run again what is refused", func(t *testing.T) {
		for state, kind := range map[string]problem.Kind{
			"23505": problem.Conflict, "SMCON": problem.Conflict, "SMFOR": problem.Forbidden, "SMIDS": problem.Invalid,
			"55P03": problem.Busy, "57014": problem.Busy, "53100": problem.Busy, "22P02": problem.NotFound, "XX000": 0,
		} {
			runs := 0
			err := d.InTx(t.Context(), func(tx *db.Tx) error { runs++; return tx.Raise(t.Context(), state) })
			if err == nil || problem.KindOf(err) != kind || runs != 1 {
				t.Errorf("%s: %d runs, %v", state, runs, err)
			}
		}
	})
	t.Run("a statement that takes too long is ended", func(t *testing.T) {
		begun := time.Now()
		err := d.InTx(t.Context(), func(tx *db.Tx) error { return tx.Sleep(t.Context(), 60) })
		if problem.KindOf(err) != problem.Busy || time.Since(begun) > 15*time.Second {
			t.Errorf("after %s: %v", time.Since(begun), err)
		}
	})
}

// Whoever changes stored rows with all rights of the server is found.
func TestCheckFinds(t *testing.T) {
	for how, sql := range map[string]string{
		"another body":         `update entries set body = '{"a":1}' where seq = 1`,
		"another author":       `update entries set person_id = 'P-0002' where seq = 1`,
		"another instant":      `update entries set observed_at = observed_at - interval '1 hour' where seq = 2`,
		"another kind":         `update entries set kind = 'start' where seq = 1`,
		"the last row removed": `delete from entries where seq = 2`,
		"the first removed":    `delete from entries where seq = 1`,
		"two bodies swapped":   `update entries e set body = (select o.body from entries o where o.seq = 3 - e.seq)`,
		"a post removed":       `delete from entries where seq = 2; delete from posts where last_seq = 2; update runs set seq = 1`,
		"another head":         `update runs set head = sha256('x')`,
		"another opening":      `update runs set opening = '{}'`,
		"a state by itself":    `update runs set state = 'released'`,
		"an act removed":       `delete from acts where act = 'run opened'`,
		"a contributor erased": `delete from contributors`,
	} {
		t.Run(how, func(t *testing.T) {
			d := dbtest.Unsound(t)
			recorded(t, d)
			if faults, err := dbtest.Check(t.Context(), d.AdminURL); err != nil || len(faults) != 0 {
				t.Fatalf("before: %v, %v", faults, err)
			}
			for _, table := range evidence {
				dbtest.Exec(t, d.AdminURL, fmt.Sprintf("alter table %s disable trigger user", table))
			}
			dbtest.Exec(t, d.AdminURL, sql)
			if faults, err := dbtest.Check(t.Context(), d.AdminURL); err != nil || len(faults) == 0 {
				t.Errorf("it was not found: %v", err)
			}
		})
	}
}

// recorded is a sound run of two posts under the first shipped procedure.
func recorded(t *testing.T, d *dbtest.Database) {
	t.Helper()
	shipped, err := commissioning.ShippedProcedures()
	must(t, err)
	procedure, err := commissioning.ParseProcedure(shipped[0])
	must(t, err)
	dbtest.Exec(t, d.OwnerURL, aPerson[:5]...)
	dbtest.Exec(t, d.OwnerURL, aPerson[6], `insert into grants values ('P-0002', 'quality', null)`)
	run := commissioning.RunID("01890000-0000-7000-8000-000000000001")
	opening := commissioning.Opening{
		Run: run, OpenedBy: "P-0001", OpenedAt: time.Now().UTC().Truncate(time.Microsecond),
		Unit:      commissioning.OpeningUnit{Tag: "U-1", Ink: "K-20", Makeup: "K-20M"},
		Site:      commissioning.OpeningSite{Name: "Plant", TimeZone: "Europe/Dublin"},
		Procedure: commissioning.OpeningProcedure{Key: procedure.Key, Revision: procedure.Revision},
	}
	body, err := ledger.Canonical(opening)
	must(t, err)
	must(t, d.InTx(t.Context(), func(tx *db.Tx) error {
		if err := tx.AddProcedure(t.Context(), procedure, shipped[0], "", false, time.Now()); err != nil {
			return err
		}
		if err := tx.ApproveProcedure(t.Context(), procedure.Key, procedure.Revision, "P-0002", "password", time.Now()); err != nil {
			return err
		}
		return tx.OpenRun(t.Context(), opening, body)
	}))
	for i := range 2 {
		e := commissioning.Entry{
			ID: uuid.Must(uuid.NewV7()).String(), Kind: commissioning.KindNote, Text: fmt.Sprint("note ", i), By: "P-0001",
			ObservedAt: opening.OpenedAt, Salt: "00112233445566778899aabbccddeeff",
		}
		entry, err := ledger.Body(e)
		must(t, err)
		sum := sha256.Sum256(entry)
		must(t, d.InTx(t.Context(), func(tx *db.Tx) error {
			_, err := tx.Append(t.Context(), db.Posting{Run: run, Person: "P-0001", SentHashes: [][]byte{sum[:]}, Bodies: [][]byte{entry}})
			return err
		}))
	}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
