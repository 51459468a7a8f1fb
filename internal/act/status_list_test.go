package act_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"settlemark/db/dbtest"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
)

// issueList makes a list if one is due and reads it as a stranger would.
func (w *world) issueList(now time.Time) (ledger.StatusList, bool) {
	w.t.Helper()
	issued, err := w.IssueStatusList(w.t.Context(), now)
	must(w.t, err)
	stored, err := w.db.StatusList(w.t.Context())
	must(w.t, err)
	l, err := ledger.ReadStatusList(stored.Signed, w.policy())
	must(w.t, err)
	return l, issued
}

// leaves are the sealed leaves of the log, in order.
func (w *world) leaves() [][]byte {
	w.t.Helper()
	conn := dbtest.Connect(w.t, w.db.AdminURL)
	defer conn.Close(context.Background())
	rows, err := conn.Query(w.t.Context(), `select leaf from log_leaves order by epoch, place`)
	must(w.t, err)
	var all [][]byte
	for rows.Next() {
		var leaf []byte
		must(w.t, rows.Scan(&leaf))
		all = append(all, leaf)
	}
	must(w.t, rows.Err())
	return all
}

// omitted counts the leaves of the log that the list hides.
func (w *world) omitted(l ledger.StatusList) int {
	w.t.Helper()
	n := 0
	for i, leaf := range w.leaves() {
		omits, err := l.Omits(int64(i), leaf)
		must(w.t, err)
		if omits {
			n++
		}
	}
	return n
}

func TestStatusList(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	if _, err := w.db.StatusList(ctx); problem.KindOf(err) != problem.Busy {
		t.Errorf("before the first list: %v", err)
	}
	w.openLog()
	if issued, err := w.IssueStatusList(ctx, evening); err != nil || issued {
		t.Errorf("over an empty log: %t, %v", issued, err)
	}
	w.seal(evening)
	w.Log.Export = filepath.Join(t.TempDir(), "share")
	first, issued := w.issueList(evening)
	if !issued || len(first.Lines) != 0 || !first.NextUpdate.Equal(evening.Add(time.Hour)) || first.Number != evening.Unix() {
		t.Fatalf("issued %t: %+v", issued, first)
	}
	t.Run("is put into the export folder", func(t *testing.T) {
		stored, err := w.db.StatusList(ctx)
		must(t, err)
		if copied, err := os.ReadFile(filepath.Join(w.Log.Export, "status")); err != nil || !bytes.Equal(copied, stored.Signed) {
			t.Errorf("%v, %d bytes", err, len(copied))
		}
	})
	t.Run("is made again after a change, and well before it grows old", func(t *testing.T) {
		if _, issued := w.issueList(evening.Add(29 * time.Minute)); issued {
			t.Error("one was made though nothing changed")
		}
		if l, issued := w.issueList(evening.Add(30 * time.Minute)); !issued || l.Number <= first.Number {
			t.Errorf("issued %t, number %d", issued, l.Number)
		}
	})
	later := evening.Add(31 * time.Minute)
	numbers := w.endOneEach(later)
	t.Run("names every certificate that no longer stands, with its code", func(t *testing.T) {
		w.seal(later)
		l, issued := w.issueList(later)
		if !issued || len(l.Lines) != 4 {
			t.Fatalf("issued %t: %+v", issued, l)
		}
		for i, want := range []string{"superseded newer-release", "withdrawn event-repair", "withdrawn quality", "withdrawn recall"} {
			line, listed := l.Of(string(numbers[i]))
			if !listed || line.Status+" "+line.Reason != want {
				t.Errorf("%s: %+v, expected %s", numbers[i], line, want)
			}
		}
	})
	t.Run("one that leaves a certificate out is found against the log", func(t *testing.T) {
		l, _ := w.issueList(later)
		if n := w.omitted(l); n != 0 {
			t.Errorf("the true list omits %d", n)
		}
		for i := range l.Lines {
			short := l
			short.Lines = slices.Delete(slices.Clone(l.Lines), i, i+1)
			if n := w.omitted(short); n == 0 {
				t.Errorf("a list without %s omits nothing", l.Lines[i].Number)
			}
		}
	})
	t.Run("every change is a leaf of the log", func(t *testing.T) {
		text := ""
		for _, leaf := range w.leaves() {
			text += string(leaf) + "\n"
		}
		if n := strings.Count(text, `"t":"status/1"`); n != 4 {
			t.Errorf("%d status leaves", n)
		}
	})
	t.Run("its number never goes down", func(t *testing.T) { w.numberNeverFalls(t, later) })
	t.Run("is believed with either key while one follows another", func(t *testing.T) {
		before := w.policy()
		_, err := w.RotateLogKey(ctx, later)
		must(t, err)
		w.seal(later)
		w.issueList(later.Add(31 * time.Minute))
		stored, err := w.db.StatusList(ctx)
		must(t, err)
		if _, err := ledger.ReadStatusList(stored.Signed, before); err != nil {
			t.Errorf("with the policy of before: %v", err)
		}
	})
}

// endOneEach gives four certificates that ended in the four ways.
func (w *world) endOneEach(now time.Time) []commissioning.CertificateNumber {
	w.t.Helper()
	ctx := w.t.Context()
	var numbers []commissioning.CertificateNumber
	for _, unit := range []string{"U-1", "L-2", "L-3", "L-4"} {
		w.unitOrFail(unit)
		numbers = append(numbers, w.released(unit))
	}
	w.shift = time.Minute
	w.released("U-1")
	w.shift = 0
	_, err := w.RecordUnitEvent(ctx, w.engineer, repair("L-2", at(55)), now)
	must(w.t, err)
	must(w.t, w.withdraw(w.quality, numbers[2], "wrong", now))
	_, err = w.RecallLot(ctx, w.quality, w.recall("lot blocked", numbers[3:]...), now)
	must(w.t, err)
	return numbers
}

func (w *world) numberNeverFalls(t *testing.T, now time.Time) {
	before, _ := w.issueList(now)
	must(t, w.withdraw(w.quality, w.released("U-1"), "again", now))
	after, issued := w.issueList(now) // in the same second
	if !issued || after.Number != before.Number+1 {
		t.Errorf("issued %t: %d after %d", issued, after.Number, before.Number)
	}
	w.unitOrFail("N-1")
	must(t, w.withdraw(w.quality, w.released("N-1"), "clock", now))
	if _, err := w.IssueStatusList(t.Context(), now.Add(-time.Minute)); problem.KindOf(err) != problem.Conflict {
		t.Errorf("with a clock that went back: %v", err)
	}
	for what, sql := range map[string]string{
		"lower it": "update status_list set number = number - 1", "keep it": "update status_list set changes = 0",
		"date it back": "update status_list set number = number + 1, issued_at = issued_at - interval '1 s'",
		"remove it":    "delete from status_list", "empty it": "truncate status_list",
	} {
		if err := dbtest.Run(t.Context(), w.db.OwnerURL, "set search_path = settlemark; "+sql); err == nil || !strings.Contains(err.Error(), "SMAPP") {
			t.Errorf("the owner may %s: %v", what, err)
		}
		if err := dbtest.Run(t.Context(), w.db.AppURL, "set search_path = settlemark; "+sql); err == nil || !strings.Contains(err.Error(), "42501") {
			t.Errorf("the login that serves may %s: %v", what, err)
		}
	}
}

// A database that was set back may have lost a withdrawal; a list of it would
// call that certificate valid.
func TestStatusList_of_a_database_that_was_set_back_is_not_signed(t *testing.T) {
	w := worldOn(t, dbtest.Unsound(t))
	w.openLog()
	w.seal(evening)
	w.superuser(`delete from log_checkpoints where size > 1`, `update log_heads set size = 1, signed = 1, published = 1`,
		`delete from log_leaves where place > 0`, `delete from log_nodes where place > 0`)
	issued, err := w.IssueStatusList(t.Context(), evening.Add(time.Second))
	refused(t, err, problem.Conflict)
	if issued {
		t.Error("a list was made")
	}
}

// Withdrawals, sealing and two makers of lists at once: no list hides what the
// log held when it was made, and numbers only rise.
func TestStatusListRaces(t *testing.T) {
	w := newWorld(t)
	w.openLog()
	var numbers []commissioning.CertificateNumber
	for i := range 12 {
		unit := fmt.Sprintf("R-%d", i)
		w.unitOrFail(unit)
		numbers = append(numbers, w.released(unit))
	}
	w.seal(evening)
	last, lists := int64(0), 0
	for i, n := range numbers {
		now := evening.Add(time.Duration(i) * time.Second)
		makeList := func() { _, err := w.IssueStatusList(t.Context(), now); must(t, err) }
		together(
			func() { must(t, w.withdraw(w.quality, n, "race", now)) },
			func() { _, err := w.Seal(t.Context(), now); must(t, err) },
			makeList, makeList)
		stored, err := w.db.StatusList(t.Context())
		if problem.KindOf(err) == problem.Busy {
			continue
		}
		must(t, err)
		l, err := ledger.ReadStatusList(stored.Signed, w.policy())
		must(t, err)
		if l.Number < last || w.omitted(l) != 0 {
			t.Fatalf("number %d after %d, omits %d", l.Number, last, w.omitted(l))
		}
		last = l.Number
		lists++
	}
	w.seal(evening.Add(time.Minute))
	l, _ := w.issueList(evening.Add(time.Minute))
	if lists == 0 || len(l.Lines) != len(numbers) || w.omitted(l) != 0 {
		t.Errorf("%d lists on the way; the last has %d lines", lists, len(l.Lines))
	}
}
