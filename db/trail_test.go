package db_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"settlemark/db"
	"settlemark/db/dbtest"
	"settlemark/internal/commissioning"
)

// manyEntries are 200 runs of 200 readings and 4,000 acts.
var manyEntries = append(append([]string{}, oneRun[:6]...),
	`insert into units select 'V-' || n, 1, 1, '', 'K-20', 'K-20M', 1 + n from generate_series(1, 200) n`,
	`insert into runs (id, number, unit, site_id, procedure, revision, opening, opened_at, opened_by, demo, head, pen)
	 select md5(n::text)::uuid, n, 'V-' || n, 1, 'p', 1, '{}', now(), 'P-0001', false, sha256(''), 'P-0001' from generate_series(1, 200) n`,
	`insert into posts select md5(n::text)::uuid, 1, 200, sha256('a'), sha256(''),
	   sha256('run-chain/1'::bytea || '\x00'::bytea || sha256('') || int4send(200) || sha256('a')), now() from generate_series(1, 200) n`,
	`insert into entries select gen_random_uuid(), md5(n::text)::uuid, s, 200, 'reading', 'P-0001', null, now(), now() - s * interval '1 minute',
	   sha256(''), '{}' from generate_series(1, 200) n, generate_series(1, 200) s`,
	`insert into acts (key, at, stored_at, person_id, name, act, site_id, subject, detail)
	 select gen_random_uuid(), now(), now() - n * interval '1 minute', 'P-0001', '', 'unit saved', 1, '', '' from generate_series(1, 4000) n`,
	`analyze`)

// A page of the trail walks an index and stops; it reads no table as a whole.
func TestTrailPlan(t *testing.T) {
	d := dbtest.Unsound(t)
	dbtest.Exec(t, d.OwnerURL, manyEntries...)
	quality := commissioning.Person{ID: "P-0002", Grants: []commissioning.Grant{{Role: commissioning.Quality}}}
	engineer := commissioning.Person{ID: "P-0001", Grants: []commissioning.Grant{{Role: commissioning.Engineer, Site: 1}}}
	deep := db.TrailPlace{At: time.Now().Add(-100 * time.Minute), Run: "01890000-0000-7000-8000-000000000001", Seq: 7}
	day := time.Now().Add(-2 * time.Hour)
	for name, c := range map[string]struct {
		reader commissioning.Person
		filter db.TrailFilter
		walks  []string
	}{
		"newest page":    {quality, db.TrailFilter{}, []string{"entries_by_instant", "acts_by_instant"}},
		"deep page":      {quality, db.TrailFilter{Before: deep}, []string{"entries_by_instant", "acts_by_instant"}},
		"of one site":    {engineer, db.TrailFilter{Before: deep}, []string{"entries_by_instant", "acts_by_instant"}},
		"from a day":     {quality, db.TrailFilter{From: &day}, []string{"entries_by_instant", "acts_by_instant"}},
		"of one kind":    {quality, db.TrailFilter{What: db.TrailReadings}, []string{"entries_by_instant"}},
		"of one run":     {quality, db.TrailFilter{Run: "R-0007"}, []string{"entries_run_id_seq_key"}},
		"of one unit":    {quality, db.TrailFilter{Unit: "V-7"}, []string{"entries_run_id_seq_key"}},
		"words in a run": {quality, db.TrailFilter{Run: "R-0007", Text: "4.6"}, []string{"entries_run_id_seq_key"}},
	} {
		t.Run(name, func(t *testing.T) {
			plan, err := d.TrailPlan(t.Context(), c.reader, c.filter)
			if err != nil {
				t.Fatal(err)
			}
			for _, index := range c.walks {
				if !strings.Contains(plan, index) {
					t.Errorf("does not walk %s", index)
				}
			}
			if strings.Contains(plan, "Seq Scan on entries") {
				t.Error("reads all entries")
			}
			if t.Failed() {
				t.Log(plan)
			}
		})
	}
	began := time.Now()
	rows, err := d.Trail(t.Context(), quality, db.TrailFilter{Before: deep})
	if err != nil || len(rows) != 100 {
		t.Fatalf("%d rows: %v", len(rows), err)
	}
	fmt.Printf("a page of the trail over 40,000 entries and 4,000 acts: %d ms\n", time.Since(began).Milliseconds())
}
