package db_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"settlemark/db"
	"settlemark/db/dbtest"
)

// Evidence that no leaf tells of could be changed unseen.
func TestLoggedTables(t *testing.T) {
	d := dbtest.New(t)
	conn := dbtest.Connect(t, d.OwnerURL)
	defer conn.Close(t.Context())
	rows, err := conn.Query(t.Context(), `
		select c.relname::text, coalesce((select encode(g.tgargs, 'escape') from pg_trigger g
			where g.tgrelid = c.oid and g.tgname = 'log_row' and g.tgenabled = 'A'), '')
		from pg_class c where exists (select 1 from pg_trigger g where g.tgrelid = c.oid and g.tgname = 'append_only')`)
	if err != nil {
		t.Fatal(err)
	}
	type table struct{ Name, Arguments string }
	all, err := pgx.CollectRows(rows, pgx.RowToStructByPos[table])
	if err != nil {
		t.Fatal(err)
	}
	// These are covered otherwise: see TestFindsEveryChange of internal/fsck.
	others := []string{"posts", "entries", "log_leaves", "log_nodes"}
	want := map[string]string{}
	for _, l := range db.LoggedTables {
		want[l.Name] = strings.Join(l.Key, ",") + `\000` + strings.Join(l.Without, ",") + `\000`
	}
	for _, found := range all {
		if slices.Contains(others, found.Name) {
			continue
		}
		if found.Arguments != want[found.Name] {
			t.Errorf("%s is append-only; its trigger log_row has the arguments %q, db.LoggedTables %q", found.Name, found.Arguments, want[found.Name])
		}
		delete(want, found.Name)
	}
	for name := range want {
		t.Errorf("db.LoggedTables names %s, which is not append-only", name)
	}
}
