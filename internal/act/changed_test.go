package act_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"settlemark/db/dbtest"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// ofRun are the tables that hold what a run stands on, with how to find its rows.
var ofRun = map[string]string{
	"runs": "id = '%s'", "posts": "run_id = '%s'", "entries": "run_id = '%s'", "contributors": "run_id = '%s'", "photos": "run_id = '%s'",
	"sample_readings": "run_id = '%s'", "signatures": "run_id = '%s'", "returns": "run_id = '%s'", "releases": "run_id = '%s'",
	"procedures":          "(key, revision) in (select procedure, revision from runs where id = '%s')",
	"procedure_approvals": "(key, revision) in (select procedure, revision from runs where id = '%s')",
}

// unbound are columns that say nothing of the run: where a procedure came from
// is settled by its approval, and what it says by its digest.
var unbound = []string{"procedures.author_id", "procedures.demo", "procedures.added_at", "procedures.stored_at", "procedures.reason"}

// another gives an expression for a value that differs.
func another(kind, column string) string {
	switch kind {
	case "timestamp with time zone":
		return column + " + interval '1 second'"
	case "bytea":
		return "set_byte(" + column + ", 0, get_byte(" + column + ", 0) # 1)"
	case "boolean":
		return "not " + column
	case "integer", "bigint":
		return column + " + 1"
	case "uuid":
		return "gen_random_uuid()"
	case "ARRAY":
		return column + " || array['x']"
	}
	return column + " || 'x'"
}

// twice is a run that was returned once, then released.
func (w *world) twice(unit string) commissioning.Run {
	w.t.Helper()
	r := w.submitted(unit)
	must(w.t, w.Return(w.t.Context(), w.supervisor, r.ID, r.Head, "photo is blurred", at(47)))
	must(w.t, w.Submit(w.t.Context(), w.engineer, r.ID, w.signing(w.engineer, r.Head), at(48)))
	must(w.t, w.ReadSample(w.t.Context(), w.supervisor, r.ID, "l24o", at(50)))
	_, err := w.Countersign(w.t.Context(), w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", at(51))
	must(w.t, err)
	return w.run(r.ID)
}

// Each column of each row that a released run stands on is changed by a
// superuser who has taken the triggers away; reading the run must show it, or a
// constraint must have refused it.
func TestChanged(t *testing.T) {
	w := worldOn(t, dbtest.Unsound(t))
	r := w.twice("U-1")
	conn := dbtest.Connect(t, w.db.AdminURL)
	defer conn.Close(context.Background())
	if whole := changes(t, conn, r.ID); len(whole) != 0 {
		t.Fatalf("before anything was changed: %v", whole)
	}
	tried, shown, refused := 0, 0, 0
	for table, where := range ofRun {
		for _, c := range columnsOf(t, conn, table) {
			if slices.Contains(unbound, table+"."+c.name) {
				continue
			}
			tried++
			set := fmt.Sprintf("update %s set %s = %s where %s is not null and %s", table, c.name, another(c.kind, c.name), c.name, fmt.Sprintf(where, r.ID))
			changed, err := tamper(t, conn, r.ID, table, set)
			var pg *pgconn.PgError
			switch {
			case errors.As(err, &pg) && (strings.HasPrefix(pg.Code, "23") || pg.Code == "22P02"): // an index on the body reads it
				refused++
			case err != nil && strings.Contains(err.Error(), "no row"):
				tried-- // the column is empty in this run
			case err != nil:
				t.Errorf("%s.%s: %v", table, c.name, err)
			case len(changed) == 0:
				t.Errorf("%s.%s was changed and nothing shows it", table, c.name)
			default:
				shown++
			}
		}
		changed, err := tamper(t, conn, r.ID, table, fmt.Sprintf("delete from %s where ctid in (select ctid from %s where %s limit 1)", table, table, fmt.Sprintf(where, r.ID)))
		if tried++; err == nil && len(changed) > 0 {
			shown++
		} else if table != "runs" {
			t.Errorf("a row of %s was removed and nothing shows it: %v", table, err)
		}
	}
	fmt.Printf("figure: %d changes tried, %d shown, %d refused by a constraint\n", tried, shown, refused)
	if shown < 60 {
		t.Errorf("only %d changes were shown", shown)
	}
}

type ofTable struct{ name, kind string }

func columnsOf(t *testing.T, conn *pgx.Conn, table string) []ofTable {
	t.Helper()
	rows, err := conn.Query(t.Context(), `select column_name::text as name, data_type::text as kind from information_schema.columns
		where table_schema = 'settlemark' and table_name = $1`, table)
	must(t, err)
	all, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (c ofTable, err error) {
		err = row.Scan(&c.name, &c.kind)
		return c, err
	})
	must(t, err)
	return all
}

// tamper changes rows with the triggers off, says what reading the run then
// shows, and takes everything back.
func tamper(t *testing.T, conn *pgx.Conn, run commissioning.RunID, table, change string) ([]string, error) {
	t.Helper()
	tx, err := conn.Begin(t.Context())
	must(t, err)
	defer tx.Rollback(t.Context())
	if _, err := tx.Exec(t.Context(), "alter table "+table+" disable trigger all"); err != nil {
		return nil, err
	}
	done, err := tx.Exec(t.Context(), change)
	if err != nil {
		return nil, err
	}
	if done.RowsAffected() == 0 {
		return nil, errors.New("no row")
	}
	return changes(t, tx, run), nil
}

func changes(t *testing.T, q interface {
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
}, run commissioning.RunID,
) []string {
	t.Helper()
	rows, err := q.Query(t.Context(), "select run_changes($1::text::uuid)", run)
	must(t, err)
	all, err := pgx.CollectRows(rows, pgx.RowTo[string])
	must(t, err)
	return all
}

// force changes rows with the triggers off, for good.
func (w *world) force(table, change string) {
	w.t.Helper()
	dbtest.Exec(w.t, w.db.AdminURL, "alter table "+table+" disable trigger all", change,
		"alter table "+table+" enable trigger all", "alter table "+table+" enable always trigger append_only")
}

func TestNothingIsSignedOnTop(t *testing.T) {
	t.Run("a_submission", func(t *testing.T) {
		w := worldOn(t, dbtest.Unsound(t))
		r := w.open("U-1")
		head := w.work(r.ID, "L 24 O").Run.Head
		w.force("entries", "update entries set observed_at = observed_at + interval '1 minute' where seq = 2")
		refused(t, w.Submit(t.Context(), w.engineer, r.ID, w.signing(w.engineer, head), at(45)), problem.Conflict)
	})
	t.Run("a_countersignature", func(t *testing.T) {
		w := worldOn(t, dbtest.Unsound(t))
		r := w.submitted("U-1")
		must(t, w.ReadSample(t.Context(), w.supervisor, r.ID, "l24o", at(50)))
		w.force("signatures", "update signatures set name = 'Somebody Else'")
		_, err := w.Countersign(t.Context(), w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", at(51))
		refused(t, err, problem.Conflict)
		if n := w.count("select count(*) from releases"); n != 0 {
			t.Errorf("%d certificates", n)
		}
	})
}
