package act_test

import (
	"context"
	"crypto/rand"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"

	"settlemark/db/dbtest"
	"settlemark/internal/fsck"
	"settlemark/internal/ledger"
)

// eventful is a world in which every table of evidence holds something, sealed
// and cosigned.
func eventful(t *testing.T) *world {
	ctx := t.Context()
	w := worldOn(t, dbtest.Unsound(t))
	w.openLog()
	witness, err := ledger.NewCosigner(rand.Reader, "witness.example")
	must(t, err)
	w.Log.Witnesses = "witness south " + witness.VerifierKey() + "\nquorum south\n"
	for _, tag := range []string{"U-2", "U-3", "U-4"} {
		w.unitOrFail(tag)
	}
	_, err = w.RotateLogKey(ctx, evening)
	must(t, err)
	w.released("U-1")
	n := w.released("U-2")
	w.released("U-1")
	_, err = w.RecordUnitEvent(ctx, w.engineer, repair("U-1", at(55)), at(60))
	must(t, err)
	_, err = w.RecallLot(ctx, w.quality, w.recall("thick", n), at(61))
	must(t, err)
	for _, unit := range []string{"U-3", "U-4"} {
		r := w.submitted(unit)
		must(t, w.Return(ctx, w.supervisor, r.ID, r.Head, "the seal drips", at(50)))
		_, err = w.TakePen(ctx, author(w.second), r.ID, newID(), "shift change", at(51))
		must(t, err)
		must(t, w.Abandon(ctx, w.second, r.ID, "pump broken", at(52)))
	}
	for i := range 2 {
		id, err := w.StartRevision(ctx, w.engineer, "bench", 1, evening)
		must(t, err)
		w.submit(id, 1)
		must(t, w.reject(w.quality, 2+i, "too short", evening))
	}
	left := w.open("U-2")
	must(t, w.retire(w.quality, "replaced", evening))
	dbtest.Exec(t, w.db.OwnerURL, `insert into settlemark.assertions (nonce, person_id, content, body)
		select 'nonce ' || n, 'P-0001', sha256(n::text::bytea), '{}' from generate_series(1, 2) as n`)
	dbtest.Exec(t, w.db.OwnerURL, `insert into settlemark.tablet_records (run_id, person_id, device, n, key, previous, digest, app)
		select min(id::text)::uuid, 'P-0001', 'tablet', n, gen_random_uuid(), '', sha256(n::text::bytea), '1'
		from settlemark.runs cross join generate_series(1, 2) as n group by n`)
	dbtest.Exec(t, w.db.OwnerURL, `insert into settlemark.set_aside (key, run_id, person_id, device, n, body, why)
		select gen_random_uuid(), min(id::text)::uuid, 'P-0001', 'tablet', n, '{}', 'the run was abandoned'
		from settlemark.runs cross join generate_series(3, 4) as n group by n`)
	w.seal(evening)
	w.vouched(witness)
	_, err = w.IssueMissing(ctx)
	must(t, err)
	w.seal(evening)
	w.vouched(witness)
	must(t, w.Abandon(ctx, w.engineer, left.ID, "again", evening))
	w.seal(evening.Add(time.Second))
	return w
}

// vouched has a witness and a time stamp authority sign the newest checkpoint.
func (w *world) vouched(witness ledger.Cosigner) {
	ctx := w.t.Context()
	newest, err := w.ToWitness(ctx, 0)
	must(w.t, err)
	must(w.t, w.Cosigned(ctx, newest, []byte(witness.Cosign(newest.Checkpoint, evening))))
	dbtest.Exec(w.t, w.db.OwnerURL, fmt.Sprintf(`insert into settlemark.log_stamps (epoch, size, token, authority, stamped_at)
		values (1, %d, 'token', 'CN=Clock', '2026-03-04T10:00:00Z')`, newest.Size))
}

// attacker is somebody with all rights who has switched every guard off.
type attacker struct {
	w      *world
	conn   *pgx.Conn
	known  fsck.Outside
	tried  int
	missed []string
}

func newAttacker(w *world) *attacker {
	a := &attacker{w: w, conn: dbtest.Connect(w.t, w.db.AdminURL)}
	w.t.Cleanup(func() { _ = a.conn.Close(context.Background()) })
	text, err := w.LogPolicy(w.t.Context())
	must(w.t, err)
	a.known.Policy = text
	a.sql(`do $$ declare c record; begin
	  for c in select conrelid::regclass as t, conname from pg_constraint
	    where connamespace = 'settlemark'::regnamespace and contype in ('f', 'c', 'u') order by contype = 'u' loop
	    execute format('alter table %s drop constraint %I', c.t, c.conname);
	  end loop;
	  drop index one_live_run_per_unit;
	  for c in select attrelid::regclass as t, attname from pg_attribute a join pg_class r on r.oid = a.attrelid
	    where r.relnamespace = 'settlemark'::regnamespace and attidentity <> '' loop
	    execute format('alter table %s alter column %I drop identity', c.t, c.attname);
	  end loop;
	  for c in select oid::regclass as t from pg_class where relnamespace = 'settlemark'::regnamespace and relkind = 'r' loop
	    execute format('alter table %s disable trigger all', c.t);
	  end loop;
	end $$`)
	return a
}

func (a *attacker) sql(statements ...string) {
	a.w.t.Helper()
	for _, s := range statements {
		if _, err := a.conn.Exec(a.w.t.Context(), s); err != nil {
			a.w.t.Fatalf("%s: %v", s, err)
		}
	}
}

func (a *attacker) strings(query string) []string {
	a.w.t.Helper()
	rows, err := a.conn.Query(a.w.t.Context(), query)
	must(a.w.t, err)
	all, err := pgx.CollectRows(rows, pgx.RowTo[string])
	must(a.w.t, err)
	return all
}

func (a *attacker) faults() []string {
	a.w.t.Helper()
	report, err := fsck.Check(a.w.t.Context(), a.w.db.DB, a.known)
	must(a.w.t, err)
	return report.Faults
}

// change does what it says to a table, asks for faults that name one of names,
// and puts the table back.
func (a *attacker) change(what, table string, names []string, statements ...string) {
	a.w.t.Helper()
	a.sql("create table saved as table " + table)
	a.sql(statements...)
	faults := a.faults()
	if a.strings("select count(*)::text from (table saved except table " + table + ") as gone")[0] == "0" &&
		strings.HasPrefix(what, "swap") {
		names = nil // the two said the same
	} else {
		a.tried++
	}
	if names != nil && !slices.ContainsFunc(faults, func(f string) bool {
		return slices.ContainsFunc(names, func(name string) bool { return strings.Contains(f, name) })
	}) {
		a.missed = append(a.missed, fmt.Sprintf("%s: no fault names %v: %v", what, names, faults))
	}
	a.sql("delete from "+table, "insert into "+table+" select * from saved", "drop table saved")
}

// otherwise gives another value of the column's type.
var otherwise = map[string]string{
	"text": "coalesce(COLUMN, '') || 'x'", "integer": "coalesce(COLUMN, 0) + 1000", "bigint": "coalesce(COLUMN, 0) + 1000",
	"bytea": "coalesce(COLUMN, ''::bytea) || 'x'::bytea", "timestamp with time zone": "coalesce(COLUMN, now()) + interval '1 microsecond'",
	"boolean": "not coalesce(COLUMN, false)", "uuid": "gen_random_uuid()", "text[]": "array_append(COLUMN, 'x')",
}

// naming is what a fault must say to name a row of the table, as SQL. Of tables
// without an entry it is the row's key, which the log tells of.
var naming = map[string]string{
	"runs": "id::text", "posts": "run_id::text", "entries": "run_id::text",
	"log_leaves": "'leaf ' || place", "log_nodes": "'stored hash ' || place",
}

// P4 of the promises: whoever changes stored evidence, even with full rights
// over the database, is found.
func TestFindsEveryChange(t *testing.T) {
	w := eventful(t)
	a := newAttacker(w)
	if faults := a.faults(); len(faults) > 0 {
		t.Fatalf("before any change: %v", faults)
	}
	columns := 0
	for _, table := range a.strings(`select c.relname::text from pg_class c join pg_trigger g on g.tgrelid = c.oid
		where g.tgname = 'append_only' order by 1`) {
		key := a.strings(`select string_agg(attname::text, ',' order by n) from pg_index i
			cross join unnest(i.indkey::smallint[]) with ordinality as k (number, n)
			join pg_attribute a on a.attrelid = i.indrelid and a.attnum = k.number
			where i.indisprimary and i.indrelid = '` + table + `'::regclass`)[0]
		name := naming[table]
		if name == "" {
			name = "'" + table + " ' || concat_ws('/', " + key + ")"
		}
		places := a.strings("select ctid::text from " + table + " order by " + key)
		if len(places) == 0 {
			t.Errorf("%s is empty, so this shows nothing of it", table)
			continue
		}
		row := func(ctid string) string { return " where ctid = '" + ctid + "'" }
		named := func(ctid string) []string { return a.strings("select " + name + " from " + table + row(ctid)) }
		at := func(i int) string { return a.strings("select ctid::text from " + table + " order by " + key)[i] }
		for _, column := range a.strings(`select attname || ' ' || format_type(atttypid, atttypmod) from pg_attribute
			where attnum > 0 and not attisdropped and attrelid = '` + table + `'::regclass order by attnum`) {
			column, kind, _ := strings.Cut(column, " ")
			value, known := otherwise[kind]
			if !known {
				t.Fatalf("%s.%s: no other value of type %s", table, column, kind)
			}
			columns++
			place := at(len(places) / 2)
			a.change("change "+table+"."+column, table, named(place),
				"update "+table+" set "+column+" = "+strings.ReplaceAll(value, "COLUMN", column)+row(place))
		}
		for _, i := range []int{0, len(places) / 2, len(places) - 1} {
			a.change(fmt.Sprintf("delete row %d of %s", i, table), table, named(at(i)), "delete from "+table+row(at(i)))
		}
		a.swap(table, key, name, at)
	}
	for _, miss := range a.missed {
		t.Error(miss)
	}
	fmt.Printf("figure: %d changes of %d columns tried, %d found\n", a.tried, columns, a.tried-len(a.missed))
}

// Changes that agree with themselves throughout, so that only what was signed
// or kept outside can tell.
func TestFindsWholeForgeries(t *testing.T) {
	w := eventful(t)
	a := newAttacker(w)
	newest, err := os.ReadFile(filepath.Join(filepath.Dir(w.Log.Key), "log.high-water"))
	must(t, err)
	tried, found := 0, 0
	finds := func(t *testing.T, what string) {
		t.Helper()
		tried++
		if faults := a.faults(); !slices.ContainsFunc(faults, func(f string) bool { return strings.Contains(f, what) }) {
			t.Errorf("no fault says %q: %v", what, faults)
			return
		}
		found++
	}
	t.Run("a row that nobody wrote", func(t *testing.T) {
		a.sql("insert into acts (id, key, at, name, act, subject, detail) values (999, gen_random_uuid(), now(), 'Ada Holm', 'roles changed', 'P-0001', '')")
		finds(t, "acts 999: the log does not tell of it")
		a.sql("delete from acts where id = 999")
	})
	t.Run("a row with a leaf in the outbox, which the tree tells of otherwise", func(t *testing.T) {
		a.sql("create table saved as table acts", "update acts set detail = 'forged' where id = 5",
			"insert into log_outbox (id, leaf) select 99999, row_leaf('acts', '5', to_jsonb(x)) from acts x where id = 5")
		finds(t, "tells of acts 5, which is not there as it was")
		a.sql("delete from acts", "insert into acts select * from saved", "delete from log_outbox where id = 99999")
	})
	t.Run("a record set back to an earlier state", func(t *testing.T) {
		a.sql(`update runs set state = 'open' where id in (select run_id from abandonments where reason = 'again')`,
			`delete from acts where detail = 'again'`, `delete from abandonments where reason = 'again'`)
		earlier := a.strings("select max(size)::text from log_checkpoints where size < (select max(size) from log_checkpoints)")[0]
		a.sql("delete from log_checkpoints where size > "+earlier, "delete from log_leaves where place >= "+earlier,
			"delete from log_nodes where place >= 2 * "+earlier+" - bit_count("+earlier+"::bigint::bit(64))",
			"update log_heads set size = "+earlier+", signed = "+earlier,
			"delete from log_outbox", "set timezone = 'UTC'",
			"insert into log_outbox (id, leaf, rides) select 1, row_leaf('log_checkpoints', '1/"+earlier+"', to_jsonb(x)), true from log_checkpoints x where size = "+earlier,
			"insert into log_outbox (id, leaf, rides) select 2, row_leaf('log_cosignatures', '1/"+earlier+"/south', to_jsonb(x)), true from log_cosignatures x where size = "+earlier,
			"insert into log_outbox (id, leaf, rides) select 3, row_leaf('log_stamps', '1/"+earlier+"', to_jsonb(x)), true from log_stamps x where size = "+earlier)
		if faults := a.faults(); len(faults) > 0 {
			t.Errorf("by itself it is sound: %v", faults)
		}
		a.known.Checkpoints = [][]byte{newest}
		finds(t, "the record is older than it")
	})
	t.Run("a changed row whose leaf and tree were made anew", func(t *testing.T) {
		a.known.Checkpoints = nil
		a.sql("update acts set detail = 'forged' where id = 5")
		var place int64
		must(t, a.conn.QueryRow(t.Context(), `select place from log_leaves where convert_from(leaf, 'UTF8') like '%"id":5,%'`).Scan(&place))
		a.sql(fmt.Sprintf("update log_leaves set leaf = row_leaf('acts', '5', (select to_jsonb(x) from acts x where id = 5)) where place = %d", place))
		tree := ledger.NewTree(0, func([]int64) ([]tlog.Hash, error) { return nil, nil })
		for _, leaf := range a.strings("select convert_from(leaf, 'UTF8') from log_leaves order by place") {
			must(t, tree.Append([]byte(leaf)))
		}
		for i, h := range tree.Made() {
			a.sql(fmt.Sprintf("update log_nodes set hash = '\\x%x' where place = %d", h[:], i))
		}
		finds(t, "the leaves give another root")
	})
	fmt.Printf("figure: %d forgeries that agree with themselves tried, %d found\n", tried, found)
}

// swap exchanges what two rows say under their keys.
func (a *attacker) swap(table, key, name string, at func(int) string) {
	keys := strings.Split(key, ",")
	var rest []string
	for _, c := range a.strings(`select attname::text from pg_attribute where attnum > 0 and not attisdropped and attrelid = '` + table + `'::regclass`) {
		if !slices.Contains(keys, c) {
			rest = append(rest, c)
		}
	}
	count := len(a.strings("select ctid::text from " + table))
	if count < 2 || len(rest) == 0 {
		return
	}
	list := strings.Join(rest, ", ")
	values := "x." + strings.Join(rest, ", x.")
	if len(rest) > 1 {
		list, values = "("+list+")", "("+values+")"
	}
	on := func(column string) string {
		var same []string
		for _, k := range keys {
			same = append(same, "t."+k+" = "+column+"."+k)
		}
		return strings.Join(same, " and ")
	}
	one, other := at(0), at(count-1)
	names := a.strings("select " + name + " from " + table + " where ctid in ('" + one + "', '" + other + "')")
	both := "select * from " + table + " where ctid in ('" + one + "', '" + other + "')"
	a.change("swap two rows of "+table, table, names,
		"create temp table two as "+both,
		"alter table two add column nth serial",
		"update "+table+" t set "+list+" = (select "+strings.Trim(values, "()")+" from two x where x.nth = 3 - (select y.nth from two y where "+on("y")+"))"+
			" where exists (select 1 from two y where "+on("y")+")",
		"drop table two")
}
