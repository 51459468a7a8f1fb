package act_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
)

// step is one act as a client does it, on a world that is ready for it.
type step struct {
	name    string
	commits int // how many commits it makes
	do      func(w *world, r commissioning.Run) error
	ready   func(w *world) commissioning.Run
}

func opened(w *world) commissioning.Run    { return w.open("U-1") }
func submitted(w *world) commissioning.Run { return w.submitted("U-1") }
func read(w *world) commissioning.Run {
	r := w.submitted("U-1")
	must(w.t, w.ReadSample(w.t.Context(), w.supervisor, r.ID, "L24O", at(46)))
	return r
}

// Every act that writes.
func steps(ctx context.Context) []step {
	return []step{
		{"open", 1, func(w *world, _ commissioning.Run) error {
			_, err := w.OpenRun(ctx, w.engineer, act.Opening{
				ID: commissioning.RunID(newID()), Unit: "U-1", Procedure: "bench", Revision: 1, Bench: w.bench.ID,
			}, morning)
			return err
		}, func(*world) commissioning.Run { return commissioning.Run{} }},
		{"record", 1, func(w *world, r commissioning.Run) error {
			_, err := w.Record(ctx, author(w.engineer), r.ID, []commissioning.Entry{done("jet-off", 1), remark("by hand", 2)}, evening)
			return err
		}, opened},
		{"record as a logger", 1, func(w *world, r commissioning.Run) error {
			_, err := w.Record(ctx, act.Author{Logger: &w.logger}, r.ID, []commissioning.Entry{viscosity("4.5", 3)}, evening)
			return err
		}, opened},
		{"store a photo", 1, func(w *world, r commissioning.Run) error {
			_, err := w.StorePhoto(ctx, w.engineer, r.ID, picture(20, 20), evening)
			return err
		}, opened},
		{"take the pen", 1, func(w *world, r commissioning.Run) error {
			_, err := w.TakePen(ctx, author(w.second), r.ID, "01900000-0000-7000-8000-0000000000aa", "shift change", evening)
			return err
		}, opened},
		{"abandon", 1, func(w *world, r commissioning.Run) error {
			return w.Abandon(ctx, w.engineer, r.ID, "pump broken", evening)
		}, opened},
		{"submit", 2, func(w *world, r commissioning.Run) error {
			return w.Submit(ctx, w.engineer, r.ID, w.signing(w.engineer, r.Head), at(45))
		}, func(w *world) commissioning.Run { r := w.open("U-1"); return w.work(r.ID, "L24O").Run }},
		{"read the sample", 1, func(w *world, r commissioning.Run) error {
			return w.ReadSample(ctx, w.supervisor, r.ID, "L24O", at(46))
		}, submitted},
		{"rule", 1, func(w *world, r commissioning.Run) error {
			_, err := w.Rule(ctx, w.supervisor, r.ID, r.Head, entry(commissioning.Entry{
				Kind: commissioning.KindDisposition, Ref: 1, Decision: commissioning.Accept, Reason: "seen",
			}, 46), at(46))
			return err
		}, submitted},
		{"return", 1, func(w *world, r commissioning.Run) error {
			return w.Return(ctx, w.supervisor, r.ID, r.Head, "sample blurred", at(46))
		}, submitted},
		{"countersign", 2, func(w *world, r commissioning.Run) error {
			_, err := w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", at(47))
			return err
		}, read},
		{"issue", 1, func(w *world, _ commissioning.Run) error {
			return w.Issue(ctx, "C-0001")
		}, func(w *world) commissioning.Run {
			r := read(w)
			_, err := w.Countersign(ctx, w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", at(47))
			must(w.t, err)
			return r
		}},
		{"withdraw", 2, func(w *world, _ commissioning.Run) error {
			return w.withdraw(w.quality, "C-0001", "wrong ink lot", evening)
		}, func(w *world) commissioning.Run { w.released("U-1"); return commissioning.Run{} }},
		{"approve a procedure", 2, func(w *world, _ commissioning.Run) error {
			return w.ApproveProcedure(ctx, w.quality, "bench", 2, w.approval(ctx, w.quality, "bench", 2), evening)
		}, func(w *world) commissioning.Run {
			_, err := w.AddProcedure(ctx, nil, secondRevision(), false, evening)
			must(w.t, err)
			return commissioning.Run{}
		}},
		{"start a revision", 1, func(w *world, _ commissioning.Run) error {
			_, err := w.StartRevision(ctx, w.second, "bench", 1, evening)
			return err
		}, func(*world) commissioning.Run { return commissioning.Run{} }},
		{"save a draft", 1, func(w *world, _ commissioning.Run) error {
			_, err := w.SaveDraft(ctx, w.second, 1, 1, "title: half", evening)
			return err
		}, drafted},
		{"submit a draft", 1, func(w *world, _ commissioning.Run) error {
			r, err := w.SubmitDraft(ctx, w.second, 1, 1, "a shorter soak", evening)
			if err == nil && r.Revision != 2 {
				w.t.Errorf("revision %d came of it", r.Revision)
			}
			return err
		}, drafted},
		{"throw a draft away", 1, func(w *world, _ commissioning.Run) error {
			return w.DiscardDraft(ctx, w.engineer, 1, 1, evening)
		}, drafted},
		{"reject a procedure", 1, func(w *world, _ commissioning.Run) error {
			return w.reject(w.quality, 2, "the soak is too short", evening)
		}, func(w *world) commissioning.Run {
			_, err := w.AddProcedure(ctx, nil, secondRevision(), false, evening)
			must(w.t, err)
			return commissioning.Run{}
		}},
		{"retire a procedure", 1, func(w *world, _ commissioning.Run) error {
			return w.retire(w.quality, "the bench is gone", evening)
		}, func(*world) commissioning.Run { return commissioning.Run{} }},
		{"add a person", 1, func(w *world, _ commissioning.Run) error {
			_, _, err := w.adds(ctx, w.admin, act.NewPerson{Name: "New", Login: "new"}, evening)
			return err
		}, func(*world) commissioning.Run { return commissioning.Run{} }},
		{"save a line", 1, func(w *world, _ commissioning.Run) error {
			_, err := w.SaveLine(ctx, w.admin, commissioning.Line{Site: w.site.ID, Name: "Line 9"}, evening)
			return err
		}, func(*world) commissioning.Run { return commissioning.Run{} }},
	}
}

// drafted is a world with the draft of a second revision, begun by the engineer.
func drafted(w *world) commissioning.Run {
	_, err := w.StartRevision(w.t.Context(), w.engineer, "bench", 1, evening)
	must(w.t, err)
	return commissioning.Run{}
}

func secondRevision() []byte {
	return []byte(strings.Replace(string(benchYAML), "revision: 1", "revision: 2", 1))
}

// Each act meets a broken connection at each of its commits, once before the
// server has it and once after. The client sees one success, and the record is
// the same as without the fault.
func TestUnknownOutcome(t *testing.T) {
	for _, s := range steps(t.Context()) {
		plain := newWorld(t)
		r := s.ready(plain)
		before := rowsIn(t, plain.db)
		must(t, s.do(plain, r))
		wanted := difference(before, rowsIn(t, plain.db))
		for n := range s.commits {
			for how, words := range map[dbtest.Cut]string{dbtest.NotStored: "not stored", dbtest.AnswerLost: "stored, answer lost"} {
				t.Run(fmt.Sprintf("%s, commit %d, %s", s.name, n+1, words), func(t *testing.T) {
					w, proxy := cuttable(t)
					r := s.ready(w)
					before := rowsIn(t, w.db)
					proxy.CutCommit(how, n)
					if err := s.do(w, r); err != nil {
						t.Errorf("the client sees %v", err)
					}
					if proxy.Cuts() != 1 {
						t.Fatalf("%d connections were cut: the act makes fewer commits", proxy.Cuts())
					}
					if stored := difference(before, rowsIn(t, w.db)); stored != wanted {
						t.Errorf("stored %s, without the fault %s", stored, wanted)
					}
				})
			}
		}
	}
}

// cuttable is a world whose acts go through a proxy.
func cuttable(t *testing.T) (*world, *dbtest.Proxy) {
	d := dbtest.New(t)
	proxy := dbtest.Through(t, d.AppURL)
	through := *d
	through.DB = dbtest.Open(t, proxy.URL)
	return worldOn(t, &through), proxy
}

// rowsIn counts the rows of every table of evidence, and of lines and persons.
func rowsIn(t *testing.T, d *dbtest.Database) map[string]int {
	conn := dbtest.Connect(t, d.AdminURL)
	defer conn.Close(context.Background())
	counts := map[string]int{}
	for _, table := range []string{
		"runs", "posts", "entries", "contributors", "photos", "sample_readings", "signatures", "returns", "abandonments",
		"releases", "certificate_pdfs", "certificate_status", "procedure_approvals", "procedure_rejections", "procedure_retirements", "procedures",
		"procedure_authors", "procedure_drafts", "procedure_draft_authors", "acts", "persons", "lines", "invites",
	} {
		var n int
		must(t, conn.QueryRow(t.Context(), "select count(*) from "+table).Scan(&n))
		counts[table] = n
	}
	return counts
}

func difference(before, after map[string]int) string {
	more := map[string]int{}
	for table, n := range after {
		if n != before[table] {
			more[table] = n - before[table]
		}
	}
	return fmt.Sprint(more) // maps print in order of their keys
}

// A countersignature that fails at an insert into any table that it writes leaves
// nothing behind, and succeeds when it is sent again.
func TestCountersignAllOrNothing(t *testing.T) {
	tables := tablesOfCountersign(t)
	for _, table := range tables {
		t.Run("fails at "+table, func(t *testing.T) {
			w := newWorld(t)
			w.released("U-1") // so that there is something to supersede
			r := read(w)
			before := rowsIn(t, w.db)
			failing(t, w, table)
			s := w.signing(w.supervisor, r.Head)
			if _, err := w.Countersign(t.Context(), w.supervisor, r.ID, s, "", at(47)); err == nil {
				t.Error("expected an error")
			}
			if left := difference(before, rowsIn(t, w.db)); left != "map[]" {
				t.Errorf("it left %s behind", left)
			}
			working(t, w, table)
			number, err := w.Countersign(t.Context(), w.supervisor, r.ID, s, "", at(48))
			if err != nil || number != "C-0002" {
				t.Errorf("sent again: %s, %v", number, err)
			}
		})
	}
	fmt.Printf("figure: countersignature broken off at each of the %d tables that it writes: left behind 0, sent again %d\n", len(tables), len(tables))
}

// tablesOfCountersign are those with more rows after one.
func tablesOfCountersign(t *testing.T) (tables []string) {
	w := newWorld(t)
	w.released("U-1") // so that there is something to supersede
	r := read(w)
	before := rowsIn(t, w.db)
	_, err := w.Countersign(t.Context(), w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", at(47))
	must(t, err)
	for table, n := range rowsIn(t, w.db) {
		if n > before[table] {
			tables = append(tables, table)
		}
	}
	if len(tables) < 4 {
		t.Fatalf("it writes %v, so this shows nothing", tables)
	}
	slices.Sort(tables)
	return tables
}

// failing lets every insert into a table fail as a bad disk would.
func failing(t *testing.T, w *world, table string) {
	dbtest.Exec(t, w.db.AdminURL,
		`create function fail() returns trigger language plpgsql as 'begin raise exception ''disk'' using errcode = ''58030''; end'`,
		`create trigger fail before insert on `+table+` for each row execute function fail()`)
}

func working(t *testing.T, w *world, table string) {
	dbtest.Exec(t, w.db.AdminURL, `drop trigger fail on `+table)
}
