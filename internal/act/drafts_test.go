package act_test

import (
	"strings"
	"sync"
	"testing"

	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/fsck"
	"settlemark/internal/problem"
)

// draft begins the second revision of the bench procedure as the engineer.
func (w *world) draft() int64 {
	w.t.Helper()
	id, err := w.StartRevision(w.t.Context(), w.engineer, "bench", 1, evening)
	must(w.t, err)
	return id
}

// submitted is the draft as a revision, submitted by the engineer.
func (w *world) submit(id int64, version int) {
	w.t.Helper()
	_, err := w.SubmitDraft(w.t.Context(), w.engineer, id, version, "a shorter soak", evening)
	must(w.t, err)
}

func (w *world) draftText(id int64) string {
	w.t.Helper()
	d, err := w.db.Draft(w.t.Context(), id)
	must(w.t, err)
	return d.Text
}

func TestDrafts(t *testing.T) {
	t.Run("a_revision_begins_as_the_text_of_the_one_before_with_its_comments", func(t *testing.T) {
		w := newWorld(t)
		if got := w.draftText(w.draft()); got != string(secondRevision()) {
			t.Errorf("got\n%s", got)
		}
	})
	t.Run("there_is_one_draft_of_a_procedure_and_everybody_goes_on_with_it", func(t *testing.T) {
		w := newWorld(t)
		first := w.draft()
		second, err := w.StartRevision(t.Context(), w.supervisor, "bench", 1, evening)
		must(t, err)
		if first != second {
			t.Errorf("drafts %d and %d", first, second)
		}
	})
	t.Run("what_is_no_procedure_is_saved_and_can_not_be_submitted", func(t *testing.T) {
		w := newWorld(t)
		id := w.draft()
		version, err := w.SaveDraft(t.Context(), w.second, id, 1, "title: half\r\n\tway", evening)
		must(t, err)
		if got := w.draftText(id); got != "title: half\n\tway" || version != 2 {
			t.Errorf("version %d: %q", version, got)
		}
		_, err = w.SubmitDraft(t.Context(), w.second, id, 2, "why not", evening)
		refused(t, err, problem.Invalid)
	})
	t.Run("two_who_save_at_once_do_not_write_over_one_another", func(t *testing.T) {
		w := newWorld(t)
		id, taken := w.draft(), make(chan error, 8)
		var all sync.WaitGroup
		for i := range cap(taken) {
			all.Go(func() {
				_, err := w.SaveDraft(t.Context(), []commissioning.Person{w.engineer, w.second}[i%2], id, 1, strings.Repeat("x", i+1), evening)
				taken <- err
			})
		}
		all.Wait()
		close(taken)
		won := 0
		for err := range taken {
			if err == nil {
				won++
				continue
			}
			refused(t, err, problem.Conflict)
		}
		if won != 1 {
			t.Errorf("%d saved", won)
		}
	})
	t.Run("the_same_text_again_makes_nobody_an_author", func(t *testing.T) {
		w := newWorld(t)
		id := w.draft()
		_, err := w.SaveDraft(t.Context(), w.quality, id, 1, w.draftText(id), evening)
		must(t, err)
		w.submit(id, 1)
		must(t, w.ApproveProcedure(t.Context(), w.quality, "bench", 2, w.approval(t.Context(), w.quality, "bench", 2), evening))
	})
	t.Run("an_administrator_drafts_nothing", func(t *testing.T) {
		w := newWorld(t)
		_, err := w.StartRevision(t.Context(), w.admin, "bench", 1, evening)
		refused(t, err, problem.Forbidden)
		_, err = w.StartProcedure(t.Context(), w.admin, act.NewProcedure{Key: "x", Title: "X"}, evening)
		refused(t, err, problem.Forbidden)
		_, err = w.SaveDraft(t.Context(), w.admin, w.draft(), 1, "x", evening)
		refused(t, err, problem.Forbidden)
	})
	t.Run("only_who_worked_on_it_or_quality_throws_it_away", func(t *testing.T) {
		w := newWorld(t)
		id := w.draft()
		refused(t, w.DiscardDraft(t.Context(), w.second, id, 1, evening), problem.Forbidden)
		must(t, w.DiscardDraft(t.Context(), w.quality, id, 1, evening))
	})
	t.Run("a_new_procedure_begins_as_one_that_can_be_judged", func(t *testing.T) {
		w := newWorld(t)
		for _, key := range []string{"", "Bench", "two words", "bench"} {
			if _, err := w.StartProcedure(t.Context(), w.second, act.NewProcedure{Key: key, Title: "X"}, evening); err == nil {
				t.Errorf("%q is taken as a key", key)
			}
		}
		id, err := w.StartProcedure(t.Context(), w.second, act.NewProcedure{Key: "rinse-only", Title: "Rinse: only"}, evening)
		must(t, err)
		p, err := commissioning.ParseProcedure([]byte(w.draftText(id)))
		if err != nil || p.Key != "rinse-only" || p.Title != "Rinse: only" {
			t.Errorf("%v %+v", err, p)
		}
	})
}

func TestSubmitDraft(t *testing.T) {
	t.Run("everybody_who_changed_it_is_an_author_and_can_not_approve_it", func(t *testing.T) {
		w := newWorld(t)
		id := w.draft()
		version, err := w.SaveDraft(t.Context(), w.quality, id, 1, w.draftText(id)+"# more\n", evening)
		must(t, err)
		w.submit(id, version)
		refused(t, w.ApproveProcedure(t.Context(), w.quality, "bench", 2, w.approval(t.Context(), w.quality, "bench", 2), evening), problem.Forbidden)
		r, err := w.db.Procedure(t.Context(), "bench", 2)
		must(t, err)
		if got := strings.Join(r.Authors, ", "); got != "Keiko Lund, Mira Sand" || r.AuthorName != "Mira Sand" || r.Reason != "a shorter soak" || r.Base != 1 {
			t.Errorf("authors %s, submitted by %s, %q, from %d", got, r.AuthorName, r.Reason, r.Base)
		}
	})
	t.Run("needs_a_reason_the_next_number_and_its_own_key", func(t *testing.T) {
		w := newWorld(t)
		id := w.draft()
		_, err := w.SubmitDraft(t.Context(), w.engineer, id, 1, " ", evening)
		refused(t, err, problem.Invalid)
		for i, change := range [][2]string{{"revision: 2", "revision: 3"}, {"key: bench\n", "key: sofa\n"}} {
			_, err = w.SaveDraft(t.Context(), w.engineer, id, i+1, strings.Replace(string(secondRevision()), change[0], change[1], 1), evening)
			must(t, err)
			_, err = w.SubmitDraft(t.Context(), w.engineer, id, i+2, "why", evening)
			refused(t, err, problem.Invalid)
		}
	})
	t.Run("a_version_that_is_not_the_newest_is_not_submitted", func(t *testing.T) {
		w := newWorld(t)
		id := w.draft()
		_, err := w.SaveDraft(t.Context(), w.second, id, 1, string(secondRevision())+"# more\n", evening)
		must(t, err)
		_, err = w.SubmitDraft(t.Context(), w.engineer, id, 1, "why", evening)
		refused(t, err, problem.Conflict)
	})
	t.Run("a_rejected_revision_stays_and_is_never_approved", func(t *testing.T) {
		w := newWorld(t)
		w.submit(w.draft(), 1)
		refused(t, w.reject(w.supervisor, 2, "no", evening), problem.Forbidden)
		refused(t, w.reject(w.quality, 2, "", evening), problem.Invalid)
		must(t, w.reject(w.quality, 2, "too short", evening))
		refused(t, w.ApproveProcedure(t.Context(), w.quality, "bench", 2, w.approval(t.Context(), w.quality, "bench", 2), evening), problem.Conflict)
		id, err := w.StartRevision(t.Context(), w.engineer, "bench", 2, evening)
		must(t, err)
		if text := w.draftText(id); !strings.Contains(text, "revision: 3") {
			t.Errorf("got\n%s", text)
		}
	})
}

// Whoever has all rights can write an approval past the function; the check of
// the record finds it.
func TestApprovalsFit(t *testing.T) {
	w := worldOn(t, dbtest.Unsound(t))
	w.submit(w.draft(), 1)
	must(t, w.reject(w.quality, 2, "too short", evening))
	dbtest.Exec(t, w.db.OwnerURL, `insert into procedure_approvals (key, revision, person_id, name, method, approved_at)
		select 'bench', 2, person_id, name, 'password', now() from procedure_authors where revision = 2`)
	report, err := fsck.Check(t.Context(), w.db.DB, fsck.Outside{})
	must(t, err)
	found := strings.Join(report.Faults, "\n")
	for _, want := range []string{"revision 2 of bench was approved by Mira Sand, who wrote it", "was approved by Mira Sand and rejected by Keiko Lund"} {
		if !strings.Contains(found, want) {
			t.Errorf("found %q, not %q", found, want)
		}
	}
}

func TestRetireProcedure(t *testing.T) {
	w := newWorld(t)
	before := w.open("U-1")
	opens := func(revision int) error {
		_, err := w.OpenRun(t.Context(), w.engineer, act.Opening{
			ID: commissioning.RunID(newID()), Unit: "U-2", Procedure: "bench", Revision: revision, Bench: w.bench.ID,
		}, evening)
		return err
	}
	must(t, w.unit(t.Context(), "U-2"))
	w.submit(w.draft(), 1)
	refused(t, w.retire(w.supervisor, "gone", evening), problem.Forbidden)
	must(t, w.retire(w.quality, "gone", evening))
	t.Run("no_run_is_opened_with_it", func(t *testing.T) { refused(t, opens(1), problem.Conflict) })
	t.Run("a_run_that_is_open_goes_on", func(t *testing.T) { w.record(before.ID, done("jet-off", 1)) })
	t.Run("nor_with_a_revision_that_waited_then", func(t *testing.T) {
		must(t, w.ApproveProcedure(t.Context(), w.quality, "bench", 2, w.approval(t.Context(), w.quality, "bench", 2), evening))
		refused(t, opens(2), problem.Conflict)
	})
	t.Run("a_revision_approved_later_brings_it_back", func(t *testing.T) {
		id, err := w.StartRevision(t.Context(), w.engineer, "bench", 2, evening)
		must(t, err)
		w.submit(id, 1)
		must(t, w.ApproveProcedure(t.Context(), w.quality, "bench", 3, w.approval(t.Context(), w.quality, "bench", 3), evening))
		must(t, opens(3))
	})
	t.Run("every_act_on_it_is_recorded", func(t *testing.T) {
		conn := dbtest.Connect(t, w.db.AppURL)
		defer conn.Close(t.Context())
		var got string
		must(t, conn.QueryRow(t.Context(), `select string_agg(act || ' by ' || name, '; ' order by id) from settlemark.acts
			where subject = 'bench' and person_id is not null`).Scan(&got))
		want := "procedure approved by Keiko Lund; procedure draft started by Mira Sand; procedure submitted by Mira Sand; " +
			"procedure retired by Keiko Lund; procedure approved by Keiko Lund; procedure draft started by Mira Sand; " +
			"procedure submitted by Mira Sand; procedure approved by Keiko Lund"
		if got != want {
			t.Errorf("got %s", got)
		}
	})
}
