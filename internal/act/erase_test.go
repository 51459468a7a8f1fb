package act_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"settlemark/db"
	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// Who left is a code on every page; the record, whose soundness is tried when the
// test ends, keeps every byte and the printed names of signatures.
func TestEraseName(t *testing.T) {
	w := newWorld(t)
	number := w.released("U-1")
	who, now := w.engineer, morning.Add(24*time.Hour)
	wish := act.Erasure{Person: who.ID, Administrator: "ada", Quality: "keiko", Reason: "asked for, left in March"}
	conn := dbtest.Connect(t, w.db.AppURL)
	text := func(sql string) (got string) {
		t.Helper()
		must(t, conn.QueryRow(t.Context(), sql).Scan(&got))
		return got
	}
	rows := func() (all []string) {
		for _, table := range []string{"entries", "signatures", "acts", "releases", "contributors"} {
			all = append(all, text(fmt.Sprintf(
				"select coalesce(string_agg(t::text, ' ' order by t::text), '') from settlemark.%s t where to_jsonb(t)->>'act' is distinct from 'name erased'", table)))
		}
		return all
	}
	refused := func(why string, e act.Erasure) {
		t.Helper()
		if err := w.EraseName(t.Context(), e, now); err == nil {
			t.Fatalf("%s: it is erased", why)
		}
	}
	refused("with access", wish)
	must(t, w.disable(w.admin, who.ID, now))
	before := rows()
	without := wish
	without.Reason = " "
	refused("without a reason", without)
	without = wish
	without.Quality = "tomas"
	refused("agreed by a supervisor", without)
	without.Quality = "ada"
	refused("agreed by the administrator alone", without)
	without = wish
	without.Administrator = "keiko"
	refused("done by no administrator", without)
	if got := text("select name || login from settlemark.persons where id = '" + string(who.ID) + "'"); got != "Mira Sandmira" {
		t.Fatalf("a refusal changed the person: %s", got)
	}
	must(t, w.EraseName(t.Context(), wish, now))
	refused("a second time", wish)
	if after := rows(); !slices.Equal(after, before) {
		t.Error("the record changed")
	}
	if got := text("select printed.name from settlemark.signatures printed where kind = 'submit'"); got != "Mira Sand" {
		t.Errorf("%s is signed by %q", number, got)
	}
	p, err := w.db.Person(t.Context(), who.ID)
	must(t, err)
	if p.Name != "Person "+string(who.ID) || strings.Contains(p.Login, "mira") {
		t.Errorf("left in the register: %+v", p)
	}
	for _, table := range []string{"code_seeds", "recovery_codes", "passkeys", "identities", "mail_wishes"} {
		if n := w.count("select count(*) from settlemark." + table + " where person_id = '" + string(who.ID) + "'"); n != 0 {
			t.Errorf("%d rows of %s are left", n, table)
		}
	}
	if _, err := w.person(t.Context(), "Somebody Else", "mira", commissioning.Engineer, w.site.ID); problem.KindOf(err) != problem.Invalid {
		t.Errorf("the login is given to somebody else: %v", err)
	}
	noted := false
	for _, reader := range []commissioning.Person{w.quality, w.admin} {
		for _, r := range w.trail(reader, db.TrailFilter{}, 1000) {
			if said := strings.ToLower(fmt.Sprintln(r.Name, r.Subject, r.Detail, r.Was, r.Became)); strings.Contains(said, "mira") {
				t.Errorf("the trail says %s", said)
			}
			noted = noted || r.Detail == "agreed by "+string(w.quality.ID)+": asked for, left in March"
		}
		acts, err := w.db.Acts(t.Context(), reader, db.ActFilter{Limit: 1000})
		must(t, err)
		if said := fmt.Sprint(acts); len(acts) == 0 || strings.Contains(said, "Mira") {
			t.Errorf("the acts say %s", said)
		}
	}
	if !noted {
		t.Error("the trail says nothing of it")
	}
	if found := w.trail(w.quality, db.TrailFilter{Text: "mira", Person: string(who.ID)}, 100); len(found) != 0 {
		t.Errorf("a search finds %d lines", len(found))
	}
}

// Nobody is erased while work of theirs goes on.
func TestEraseNameOfAnOpenRun(t *testing.T) {
	w := newWorld(t)
	w.open("U-1")
	dbtest.Exec(t, w.db.OwnerURL, `update persons set disabled_at = now() where login = 'mira'`)
	if err := w.EraseName(t.Context(), act.Erasure{Person: w.engineer.ID, Administrator: "ada", Quality: "keiko", Reason: "asked for"}, morning); err == nil {
		t.Error("a name with an open run is erased")
	}
}
