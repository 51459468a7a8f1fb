package db_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"settlemark/db/dbtest"
)

// byRole are calls of the functions that write evidence, by the login that
// serves, with a person who does not hold the role: whatever the program asks,
// the database refuses. "pen" is a relation that none of them has.
var byRole = []struct{ what, holds, sql string }{
	{"open a run", "engineer", `select open_run(gen_random_uuid(), '%s', 'U-2', 'p', 1, '{}', now())`},
	{"add a reading", "pen", `select append_post('01890000-0000-7000-8000-000000000001', '%[1]s', null, array[sha256('x')],
	  array[convert_to('{"id":"01890000-0000-7000-8000-00000000000a","kind":"reading","by":"%[1]s","observed_at":"2026-01-01T00:00:00Z"}', 'UTF8')])`},
	{"rule on an entry", "supervisor", `select append_post('01890000-0000-7000-8000-000000000001', '%[1]s', null, array[sha256('x')],
	  array[convert_to('{"id":"01890000-0000-7000-8000-00000000000b","kind":"disposition","by":"%[1]s","observed_at":"2026-01-01T00:00:00Z"}', 'UTF8')])`},
	{"store a photo", "pen", `select store_photo('01890000-0000-7000-8000-000000000001', '%s', sha256('x'), 'image/jpeg', 1, 1, 'x')`},
	{"take the pen", "engineer", `select take_pen('01890000-0000-7000-8000-000000000001', '%s', '', now())`},
	{"abandon a run", "pen supervisor", `select abandon_run('01890000-0000-7000-8000-000000000001', '%s', 'why', now())`},
	{"submit", "pen", `select submit_run('01890000-0000-7000-8000-000000000001', '%s', sha256('x'), 'm', 'password', 'n', now(), 'a')`},
	{"read the sample", "supervisor", `select read_sample('01890000-0000-7000-8000-000000000003', '%s', 'x', now())`},
	{"return", "supervisor", `select return_run('01890000-0000-7000-8000-000000000003', '%s', sha256(''), 'why', now())`},
	{"countersign", "supervisor", `select countersign_run('01890000-0000-7000-8000-000000000003', '%s', sha256(''), 'm', 'password', 'n', now(), 'a',
	  true, '', 'C-0001', 'Line 1', '{}', null, '{}')`},
	{"withdraw", "quality", `select withdraw_certificate('C-0001', '%s', 'why', now())`},
	{"approve a procedure", "quality", `select approve_procedure('q', 1, '%s', 'password', now())`},
}

// Everybody: one person a role at the site, one of another site with both roles
// of the bench, one disabled who holds all, one with no role.
var everybody = append(append([]string{}, oneRun...),
	`insert into sites (name, address, time_zone, paper, demo) values ('Elsewhere', '', 'Europe/Lisbon', 'A4', false)`,
	`insert into units values ('U-2', 1, 1, '', 'K-20', 'K-20M', 2)`,
	`insert into procedures (key, revision, yaml, digest, demo, added_at) values ('q', 1, '', sha256(''), false, now())`,
	`insert into procedure_approvals values ('p', 1, 'P-0001', '', 'password', now())`,
	`insert into runs (id, number, unit, site_id, procedure, revision, opening, opened_at, opened_by, demo, head, pen)
	 values ('01890000-0000-7000-8000-000000000003', 3, 'U-2', 1, 'p', 1, '{}', now(), 'P-0001', false, sha256(''), 'P-0001')`,
	`update runs set state = 'submitted' where number = 3`,
	`insert into persons (id, name, login, disabled_at) values ('engineer', 'E', 'e', null), ('supervisor', 'S', 's', null), ('quality', 'Q', 'q', null),
	   ('administrator', 'A', 'a', null), ('stranger', 'X', 'x', null), ('disabled', 'D', 'd', now()), ('nobody', 'N', 'n', null)`,
	`insert into grants values ('engineer', 'engineer', 1), ('supervisor', 'supervisor', 1), ('quality', 'quality', null), ('administrator', 'administrator', null),
	   ('stranger', 'engineer', 2), ('stranger', 'supervisor', 2), ('disabled', 'engineer', null), ('disabled', 'supervisor', null), ('disabled', 'quality', null)`)

func TestRolesInTheDatabase(t *testing.T) {
	d := dbtest.Unsound(t)
	dbtest.Exec(t, d.AdminURL, everybody...)
	conn := dbtest.Connect(t, d.AppURL)
	defer conn.Close(context.Background())
	refused := 0
	for _, c := range byRole {
		for _, who := range []string{"engineer", "supervisor", "quality", "administrator", "stranger", "disabled", "nobody"} {
			code := try(t, conn, fmt.Sprintf(c.sql, who))
			if strings.Contains(c.holds, who) {
				if code == "SMFOR" {
					t.Errorf("%s as %s: refused, the table allows it", c.what, who)
				}
				continue
			}
			if refused++; code != "SMFOR" {
				t.Errorf("%s as %s: SQLSTATE %q, expected a refusal by role", c.what, who, code)
			}
		}
	}
	fmt.Printf("as the login that serves, for a person without the role: tried %d, refused %d\n", refused, refused)
}
