package act_test

import (
	"context"
	"strings"
	"testing"

	"settlemark/db"
	"settlemark/db/dbtest"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// trail reads everything that passes the filter, a few lines at a time.
func (w *world) trail(p commissioning.Person, f db.TrailFilter, page int) []db.TrailRow {
	w.t.Helper()
	var all []db.TrailRow
	for f.Limit = page; ; f.Before = all[len(all)-1].Place() {
		rows, err := w.db.Trail(w.t.Context(), p, f)
		must(w.t, err)
		all = append(all, rows...)
		if len(rows) < page {
			return all
		}
	}
}

func ids(rows []db.TrailRow) string {
	var all []string
	for _, r := range rows {
		all = append(all, r.ID)
	}
	return strings.Join(all, " ")
}

func TestTrail(t *testing.T) {
	w := newWorld(t)
	number := w.released("U-1")
	w.unitOrFail("U-2")
	w.open("U-2")
	all := w.trail(w.quality, db.TrailFilter{}, 1000)
	entries, acts := 0, 0
	for i, r := range all {
		if i > 0 && r.StoredAt.After(all[i-1].StoredAt) {
			t.Errorf("line %d is newer than the one before it", i)
		}
		if r.Act {
			acts++
		} else {
			entries++
		}
	}
	t.Run("holds_every_entry_and_every_act", func(t *testing.T) {
		if want := w.count("select count(*) from entries"); entries != want || entries == 0 {
			t.Errorf("%d entries, stored are %d", entries, want)
		}
		if want := w.count("select count(*) from acts"); acts != want || acts == 0 {
			t.Errorf("%d acts, stored are %d", acts, want)
		}
	})
	t.Run("pages_of_any_size_hold_the_same_in_the_same_order", func(t *testing.T) {
		for _, page := range []int{1, 2, 3, 7, 50} {
			if got := ids(w.trail(w.quality, db.TrailFilter{}, page)); got != ids(all) {
				t.Errorf("pages of %d differ", page)
			}
		}
	})
	t.Run("an_administrator_reads_no_evidence", func(t *testing.T) {
		lines := w.trail(w.admin, db.TrailFilter{}, 100)
		for _, r := range lines {
			if r.Run != "" {
				t.Errorf("%s on a run", r.Kind)
			}
		}
		if len(lines) == 0 {
			t.Error("and no acts on registers either")
		}
	})
	t.Run("another_site_sees_nothing_of_this_one", func(t *testing.T) {
		for _, r := range w.trail(w.stranger, db.TrailFilter{}, 100) {
			if r.SiteName == w.site.Name {
				t.Errorf("%s of %s", r.Kind, r.SiteName)
			}
		}
	})
	t.Run("filters_narrow_it", func(t *testing.T) { filters(t, w, number, all) })
}

func filters(t *testing.T, w *world, number commissioning.CertificateNumber, all []db.TrailRow) {
	middle := all[len(all)/2].StoredAt
	for name, c := range map[string]struct {
		filter db.TrailFilter
		passes func(db.TrailRow) bool
	}{
		"unit":         {db.TrailFilter{Unit: "U-1"}, func(r db.TrailRow) bool { return r.Unit == "U-1" }},
		"run":          {db.TrailFilter{Run: "R-0001"}, func(r db.TrailRow) bool { return r.RunNumber == 1 }},
		"readings":     {db.TrailFilter{What: db.TrailReadings}, func(r db.TrailRow) bool { return r.Kind == "reading" }},
		"runs":         {db.TrailFilter{What: db.TrailRuns}, func(r db.TrailRow) bool { return strings.HasPrefix(r.Kind, "run ") }},
		"registers":    {db.TrailFilter{What: db.TrailRegisters}, func(r db.TrailRow) bool { return strings.HasSuffix(r.Kind, " saved") }},
		"certificates": {db.TrailFilter{What: db.TrailCertificates}, func(r db.TrailRow) bool { return r.Subject == string(number) }},
		"from":         {db.TrailFilter{From: &middle}, func(r db.TrailRow) bool { return !r.StoredAt.Before(middle) }},
		"to":           {db.TrailFilter{To: &middle}, func(r db.TrailRow) bool { return !r.StoredAt.After(middle) }},
		"words":        {db.TrailFilter{Text: "4.60", Unit: "U-1"}, func(r db.TrailRow) bool { return strings.Contains(string(r.Body), "4.60") }},
		"person": {
			db.TrailFilter{Person: "mira"},
			func(r db.TrailRow) bool { return r.By == string(w.engineer.ID) || r.Subject == string(w.engineer.ID) },
		},
	} {
		t.Run(name, func(t *testing.T) {
			var want []db.TrailRow
			for _, r := range all {
				if c.passes(r) {
					want = append(want, r)
				}
			}
			if got := w.trail(w.quality, c.filter, 9); ids(got) != ids(want) || len(want) == 0 {
				t.Errorf("%d lines, expected %d", len(got), len(want))
			}
		})
	}
	t.Run("words_alone_would_read_everything", func(t *testing.T) {
		_, err := w.db.Trail(t.Context(), w.quality, db.TrailFilter{Text: "4.60"})
		refused(t, err, problem.Invalid)
	})
}

// What the engineer read off the sample may not reach whoever reads it next.
func TestTrailIsBlind(t *testing.T) {
	w := newWorld(t)
	r := w.submitted("U-1")
	const code = "L 24 O"
	shown := func() string {
		rows := w.trail(w.supervisor, db.TrailFilter{}, 500)
		said, err := w.db.TrailEntries(t.Context(), rows)
		must(t, err)
		all := ""
		for _, e := range said {
			all += e.Text + e.Note + e.Reason + "\n"
		}
		return all
	}
	found := func() int { return len(w.trail(w.supervisor, db.TrailFilter{Text: code, Unit: "U-1"}, 100)) }
	if strings.Contains(shown(), code) || found() != 0 {
		t.Errorf("the trail shows what the engineer read, or finds it (%d)", found())
	}
	must(t, w.ReadSample(t.Context(), w.supervisor, r.ID, "l24o", at(50)))
	_, err := w.Countersign(t.Context(), w.supervisor, r.ID, w.signing(w.supervisor, r.Head), "", at(51))
	must(t, err)
	if !strings.Contains(shown(), code) || found() != 1 {
		t.Errorf("it is not shown, or not found (%d), after the release", found())
	}
}

// Each line's leaf is the one that the trigger wrote.
func TestTrailLeaf(t *testing.T) {
	w := newWorld(t)
	w.released("U-1")
	for _, r := range w.trail(w.quality, db.TrailFilter{}, 500) {
		n := w.count("select count(*) from log_outbox where leaf = trail_leaf('"+r.ID+"')") +
			w.count("select count(*) from log_leaves where leaf = trail_leaf('"+r.ID+"')")
		if n != 1 {
			t.Errorf("%s: the log tells of it %d times", r.Kind, n)
		}
	}
	_, _, err := w.db.TrailProof(t.Context(), w.stranger, w.trail(w.quality, db.TrailFilter{Unit: "U-1"}, 1)[0].ID)
	refused(t, err, problem.NotFound)
}

// Every change of a register says what stood there before and what stands there now.
func TestTrailOfRegisters(t *testing.T) {
	w := newWorld(t)
	v := commissioning.Unit{Tag: "U-1", Site: w.site.ID, LineID: w.line.ID, Serial: "S-9", Ink: "K-20", Makeup: "K-20M"}
	_, err := w.SaveUnit(t.Context(), w.supervisor, v, evening)
	must(t, err)
	bench := w.bench
	bench.Name = "Bench 2"
	_, err = w.SaveBench(t.Context(), w.supervisor, bench, evening)
	must(t, err)
	must(t, w.setRoles(w.admin, w.third.ID, nil, evening))
	must(t, w.disable(w.admin, w.third.ID, evening))
	for kind, want := range map[string][2]string{
		"unit saved":      {`"serial": "S-U-1"`, `"serial": "S-9"`},
		"bench saved":     {`"name": "Bench 1"`, `"name": "Bench 2"`},
		"roles changed":   {`supervisor at `, `"roles": []`},
		"person disabled": {`"disabled_at": null`, `"disabled_at": "20`},
	} {
		for _, r := range w.trail(w.quality, db.TrailFilter{}, 500) {
			if r.Kind != kind {
				continue
			}
			if !strings.Contains(r.Was, want[0]) || !strings.Contains(r.Became, want[1]) || strings.Contains(r.Was+r.Became, "argon2") {
				t.Errorf("%s: was %s, became %s", kind, r.Was, r.Became)
			}
			break // the newest
		}
	}
}

func (w *world) count(sql string) (n int) {
	w.t.Helper()
	conn := dbtest.Connect(w.t, w.db.AdminURL)
	defer conn.Close(context.Background())
	must(w.t, conn.QueryRow(w.t.Context(), sql).Scan(&n))
	return n
}
