package db_test

import (
	"context"
	"testing"

	"settlemark/db/dbtest"
)

// What the functions refuse to the login that serves, whoever it says it is
// acting for: nothing above them is asked.
func TestAfterReleaseRefusals(t *testing.T) {
	d := dbtest.Unsound(t)
	dbtest.Exec(t, d.OwnerURL, oneRun...)
	dbtest.Exec(t, d.OwnerURL,
		`insert into persons (name, login) values ('Keiko Lund', 'keiko'), ('Nils Berg', 'nils')`,
		`insert into sites (name, address, time_zone, paper, demo) values ('Elsewhere', '', 'Europe/Lisbon', 'A4', false)`,
		`insert into grants (person_id, role, site_id) values ('P-0001', 'engineer', 1), ('P-0002', 'supervisor', 2),
		   ('P-0003', 'quality', null), ('P-0004', 'supervisor', 1)`,
		`update persons set disabled_at = now() where id = 'P-0004'`)
	conn := dbtest.Connect(t, d.AppURL)
	defer conn.Close(context.Background())
	event := func(person, rest string) string {
		return `select record_unit_event(gen_random_uuid(), 'U-1', '` + person + `', ` + rest + `)`
	}
	recall := func(person, numbers string) string {
		return `select recall_certificates(gen_random_uuid(), '` + person + `', 'K-20', 'L-1', ` + numbers + `, 'blocked', 'password', now())`
	}
	const now = `'repair', 'pump', now(), now()`
	for how, c := range map[string]struct{ sql, state string }{
		"an event by a supervisor of another site":  {event("P-0002", now), "SMFOR"},
		"an event by quality":                       {event("P-0003", now), "SMFOR"},
		"an event by somebody who was disabled":     {event("P-0004", now), "SMFOR"},
		"an event by nobody":                        {event("P-0099", now), "SMFOR"},
		"an event that lies ahead":                  {event("P-0001", `'repair', 'pump', now() + interval '1 s', now()`), "SMINV"},
		"an event of no known kind":                 {event("P-0001", `'magic', 'pump', now(), now()`), "23514"},
		"an event without words":                    {event("P-0001", `'repair', '', now(), now()`), "23514"},
		"an event of a unit that is not there":      {`select record_unit_event(gen_random_uuid(), 'U-9', 'P-0001', ` + now + `)`, "SMNOT"},
		"an event that is allowed":                  {event("P-0001", now), ""},
		"a recall by an engineer":                   {recall("P-0001", `'{C-0001}'`), "SMFOR"},
		"a recall by a supervisor":                  {recall("P-0002", `'{C-0001}'`), "SMFOR"},
		"a recall of a certificate that is not":     {recall("P-0003", `'{C-0001}'`), "SMNOT"},
		"a recall of nothing":                       {recall("P-0003", `'{}'`), "SMCON"},
		"a withdrawal by an engineer":               {`select withdraw_certificate('C-0001', 'P-0001', 'x', now())`, "SMFOR"},
		"a status of its own":                       {`insert into certificate_status (number) values ('C-0001')`, "42501"},
		"an event of its own":                       {`insert into unit_events (id) values (gen_random_uuid())`, "42501"},
		"a recall of its own":                       {`insert into recalls (id) values (gen_random_uuid())`, "42501"},
		"a list of its own":                         {`insert into status_list (number) values (1)`, "42501"},
		"a list of a log that is not":               {`select store_status_list(1, 7, now(), now() + interval '1 h', 0, 'x')`, "SMCON"},
		"the inner function that asks nobody":       {`select withdraw_one('C-0001', 'P-0003', 'x', now(), null, null)`, "42501"},
		"a release past the events since it closed": {`select check_unit_untouched()`, "42501"},
	} {
		if got := try(t, conn, c.sql); got != c.state {
			t.Errorf("%s: SQLSTATE %q, expected %q", how, got, c.state)
		}
	}
}
