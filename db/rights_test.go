package db_test

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"testing"

	"github.com/jackc/pgx/v5"

	"settlemark/db"
	"settlemark/db/dbtest"
	"settlemark/internal/problem"
)

// evidence is every table that holds evidence.
var evidence = []string{
	"procedures", "procedure_approvals", "runs", "posts", "entries", "contributors", "photos", "sample_readings",
	"signatures", "returns", "abandonments", "releases", "certificate_pdfs", "certificate_status", "acts",
	"unit_events", "recalls",
	"procedure_authors", "procedure_rejections", "procedure_retirements",
	"log_epochs", "log_keys", "log_leaves", "log_nodes", "log_checkpoints", "log_cosignatures", "log_stamps",
}

// oneRun is a run with an entry, as the owner of the tables would write it.
var oneRun = []string{
	`insert into sites (name, address, time_zone, paper, demo) values ('Plant', '', 'Europe/Dublin', 'A4', false)`,
	`insert into lines (site_id, name) values (1, 'Line 1')`,
	`insert into fluids values ('K-20', '', 'ink', ''), ('K-20M', '', 'makeup', '')`,
	`insert into units values ('U-1', 1, 1, '', 'K-20', 'K-20M', 1)`,
	`insert into persons (name, login) values ('Mira Sand', 'mira'), ('Tomas Reed', 'tomas')`,
	`insert into procedures (key, revision, yaml, digest, demo, added_at) values ('p', 1, '', sha256(''), false, now())`,
	`insert into runs (id, number, unit, site_id, procedure, revision, opening, opened_at, opened_by, demo, head, pen)
	 values ('01890000-0000-7000-8000-000000000001', 1, 'U-1', 1, 'p', 1, '{}', now(), 'P-0001', false, sha256(''), 'P-0001')`,
	`insert into posts values ('01890000-0000-7000-8000-000000000001', 1, 1, sha256('a'), sha256(''),
	   sha256('run-chain/1'::bytea || '\x00'::bytea || sha256('') || int4send(1) || sha256('a')), now())`,
	`insert into entries values ('01890000-0000-7000-8000-000000000002', '01890000-0000-7000-8000-000000000001', 1, 1, 'note',
	   'P-0001', null, now(), now(), sha256(''), '{}')`,
}

type attempt struct{ how, sql string }

// The ways that a program which serves might try to change evidence.
func attempts() []attempt {
	const run = `'01890000-0000-7000-8000-000000000001'`
	all := []attempt{
		{"lock for update", `select * from entries for update`},
		{"lock for no key update", `select * from runs for no key update`},
		{"lock for share", `select * from entries for share`},
		{"lock for key share", `select * from entries for key share`},
		{"insert or update", `insert into contributors values (` + run + `, 'P-0002') on conflict (run_id, person_id) do update set since = now()`},
		{"set received_at", `insert into entries (received_at) values (now())`},
		{"set stored_at", `insert into signatures (stored_at) values (now())`},
		{"override an identity", `insert into acts (id, key) overriding system value values (1, gen_random_uuid())`},
		{"temporary table", `create temp table entries (id int)`},
		{"disable a trigger", `alter table entries disable trigger append_only`},
		{"disable all triggers", `alter table entries disable trigger all`},
		{"drop a trigger", `drop trigger append_only on entries`},
		{"play a replica", `set session_replication_role = replica`},
		{"table in public", `create table public.entries (id int)`},
		{"table in our schema", `create table settlemark.spare (id int)`},
		{"schema of its own", `create schema spare`},
		{"lock the table, share", `lock table entries in share mode`},
		{"lock the table, exclusive", `lock table entries in access exclusive mode`},
		{"copy to a program", `copy entries to program 'cat'`},
		{"copy from a program", `copy entries from program 'true'`},
		{"read a file", `select pg_read_file('/etc/hostname')`},
		{"write a large object from a file", `select lo_import('/etc/hostname')`},
		{"alter a column", `alter table entries alter column body drop not null`},
		{"drop a table", `drop table acts`},
		{"drop a constraint", `alter table signatures drop constraint signatures_pkey`},
		{"replace a function", `create or replace function settlemark.append_post(uuid, text, text, bytea[], bytea[]) returns table (stored_seq integer, again boolean) language sql as 'select 1, true'`},
		{"alter a function", `alter function settlemark.lock_run(uuid) security invoker`},
		{"call an inner function", `select note_run(r, 'run released', 'P-0001', now(), 'C-0001', '') from runs r`},
		{"write an act of a run", `select note_register(gen_random_uuid(), 'run released', 'P-0001', now(), 1, 'U-1', 'C-0001', '')`},
		{"withdraw past the checks", `select withdraw_one('C-0001', 'P-0001', 'x', now(), null, null)`},
		{"call an inner check", `select check_head(r, r.head) from runs r`},
		{"call an inner procedure", `call make_append_only('units')`},
		{"become the owner", `set role settlemark_owner`},
		{"become another user", `set session authorization postgres`},
		{"grant itself rights", `grant update on entries to settlemark_app; update entries set body = body`},
		{"grant itself the owner", `grant settlemark_owner to settlemark_app`},
		{"take over ownership", `alter table entries owner to settlemark_app`},
		{"make a rule", `create rule r as on insert to entries do instead nothing`},
		{"make a trigger", `create trigger t before insert on entries for each row execute function suppress_redundant_updates_trigger()`},
		{"count certificates on", `update counters set last = last + 1`},
		{"change a person's code", `update persons set id = 'P-0009' where id = 'P-0002'`},
		{"change a login", `update persons set login = 'other' where id = 'P-0002'`},
		{"remove a person", `delete from persons`},
		{"make a site no demo", `update sites set demo = true`},
		{"change the migrations' table", `delete from schema_versions`},
		{"write a view", `update run_rows set state = 'released'`},
		{"start a draft past its function", `insert into procedure_drafts (key, text, started_by, started_at, changed_by, changed_at) values ('p', '', 'P-0001', now(), 'P-0001', now())`},
		{"save a draft past its function", `update procedure_drafts set text = '', version = version`},
		{"take an author off a draft", `delete from procedure_draft_authors`},
		{"draft with no role", `select start_draft('q', null, '', 'P-0001', now())`},
		{"reject with no role", `select reject_procedure('p', 1, 'P-0001', 'x', now())`},
		{"retire with no role", `select retire_procedure('p', 'P-0001', 'x', now())`},
		{"merge", `merge into entries e using runs r on e.run_id = r.id when matched then delete`},
		{"take a leaf out of the outbox", `delete from log_outbox`},
		{"change a leaf in the outbox", `update log_outbox set leaf = ''`},
		{"put a leaf into the outbox", `insert into log_outbox (leaf) values ('')`},
		{"set the log back", `update log_heads set size = 0, signed = 0, published = 0`},
		{"hold the log's head", `select * from log_heads for update`},
		{"open a log's head", `insert into log_heads (epoch, size) values (9, 0)`},
		{"call an inner part of the log", `call log_rows('units')`},
		{"delete through a with", `with gone as (delete from entries returning *) select * from gone`},
	}
	for _, table := range evidence {
		all = append(all,
			attempt{"insert into " + table, `insert into ` + table + ` default values`},
			attempt{"update " + table, `update ` + table + ` set ` + firstColumn[table] + ` = ` + firstColumn[table]},
			attempt{"delete from " + table, `delete from ` + table},
			attempt{"truncate " + table, `truncate ` + table + ` cascade`})
	}
	return all
}

var firstColumn = map[string]string{
	"procedures": "yaml", "procedure_approvals": "name", "runs": "unit", "posts": "chain", "entries": "body", "contributors": "since",
	"photos": "bytes", "sample_readings": "text", "signatures": "name", "returns": "reason", "abandonments": "reason",
	"procedure_authors": "name", "procedure_rejections": "reason", "procedure_retirements": "reason",
	"releases": "document", "certificate_pdfs": "pdf", "certificate_status": "reason", "acts": "detail",
	"unit_events": "detail", "recalls": "reason",
	"log_epochs": "origin", "log_keys": "vkey", "log_leaves": "leaf", "log_nodes": "hash", "log_checkpoints": "signed", "log_cosignatures": "line", "log_stamps": "authority",
}

func TestRights(t *testing.T) {
	d := dbtest.Unsound(t)
	dbtest.Exec(t, d.OwnerURL, oneRun...)

	t.Run("the login that serves can change no evidence", func(t *testing.T) {
		refuseAll(t, "as the login that serves", d.AppURL, nil, attempts(), "42501", "SMFOR", "55000")
	})
	t.Run("neither can the owner while the triggers stand", func(t *testing.T) {
		refuseAll(t, "as the owner", d.OwnerURL, nil, ownersAttempts(), "SMAPP")
	})
	t.Run("nor a superuser who plays a replica", func(t *testing.T) {
		refuseAll(t, "as a superuser playing a replica", d.AdminURL, []string{"set session_replication_role = replica"}, ownersAttempts(), "SMAPP")
	})
}

// ownersAttempts are those that rights do not stop.
func ownersAttempts() []attempt {
	all := []attempt{
		{"give the run a past", `update runs set opened_at = opened_at - interval '1 day'`},
		{"give the run another unit's opening", `update runs set opening = 'x'`},
		{"set the head alone", `update runs set head = sha256('x')`},
		{"set the seq back", `update runs set seq = -1, head = sha256('x')`},
		{"set a head without its post", `update runs set seq = 2, head = sha256('x')`},
		{"release at once", `update runs set state = 'released'`},
		{"open again after a release", `update runs set state = 'submitted'; update runs set state = 'released'; update runs set state = 'open', round = 2`},
		{"skip a round", `update runs set round = 3`},
		{"give the pen away after submission", `update runs set state = 'submitted'; update runs set pen = 'P-0002'`},
	}
	for _, table := range evidence {
		if table != "runs" {
			all = append(all, attempt{"update " + table, `update ` + table + ` set ` + firstColumn[table] + ` = ` + firstColumn[table]})
		}
		all = append(all,
			attempt{"delete from " + table, `delete from ` + table},
			attempt{"truncate " + table, `truncate ` + table + ` cascade`})
	}
	return all
}

// refuseAll tries each and prints how many were refused; each must be, for one
// of the reasons in codes.
func refuseAll(t *testing.T, who, address string, before []string, all []attempt, codes ...string) {
	conn := dbtest.Connect(t, address)
	defer conn.Close(context.Background())
	for _, s := range before {
		if _, err := conn.Exec(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
	refused := 0
	for _, a := range all {
		if code := try(t, conn, a.sql); slices.Contains(codes, code) {
			refused++
		} else {
			t.Errorf("%s: %s: SQLSTATE %q, expected a refusal", who, a.how, code)
		}
	}
	fmt.Printf("figure: %d of %d ways refused %s\n", refused, len(all), who)
	if refused != len(all) {
		t.Errorf("tried %d, refused %d", len(all), refused)
	}
}

// try runs a statement and takes back what it did. It gives the SQLSTATE, ""
// when nothing refused it.
func try(t *testing.T, conn *pgx.Conn, sql string) string {
	t.Helper()
	tx, err := conn.Begin(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback(t.Context())
	results := tx.Conn().PgConn().Exec(t.Context(), sql)
	_, err = results.ReadAll()
	return sqlState(err)
}

func TestCheckRights(t *testing.T) {
	d := dbtest.New(t)
	t.Run("the login that serves is accepted", func(t *testing.T) {
		if err := d.CheckRights(t.Context()); err != nil {
			t.Error(err)
		}
	})
	for who, address := range map[string]string{"a superuser": d.AdminURL, "the owner": d.OwnerURL} {
		t.Run(who+" is refused", func(t *testing.T) { refusesToServe(t, address) })
	}
	t.Run("a login with one right too many is refused", func(t *testing.T) {
		dbtest.Exec(t, d.OwnerURL, "grant update (body) on entries to settlemark_app")
		refusesToServe(t, d.AppURL)
	})
}

func refusesToServe(t *testing.T, address string) {
	open, err := db.Open(t.Context(), address, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer open.Close()
	if err := open.CheckRights(t.Context()); problem.KindOf(err) != problem.Forbidden {
		t.Errorf("got %v, expected a refusal", err)
	}
}
