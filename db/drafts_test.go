package db_test

import (
	"errors"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"

	"settlemark/db/dbtest"
)

// Who may do what with procedures, asked of the database itself as the login
// that serves: no page and no act stands before it.
func TestProcedureRights(t *testing.T) {
	d := dbtest.Unsound(t) // the procedures hold no text
	dbtest.Exec(t, d.OwnerURL,
		`insert into sites (name, address, time_zone, paper, demo) values ('Plant', '', 'Europe/Dublin', 'A4', false)`,
		`insert into persons (name, login) values ('Eng', 'e'), ('Sup', 's'), ('Qual', 'q'), ('Adm', 'a'), ('Gone', 'g')`,
		`update persons set disabled_at = now() where login = 'g'`,
		`insert into grants values ('P-0001', 'engineer', 1), ('P-0002', 'supervisor', 1), ('P-0003', 'quality', null),
		   ('P-0004', 'administrator', null), ('P-0005', 'quality', null)`,
		`insert into procedures (key, revision, yaml, digest, demo, added_at) values ('p', 1, '', sha256(''), false, now()), ('r', 1, '', sha256(''), false, now())`,
		`insert into procedure_drafts (key, base, text, started_by, started_at, changed_by, changed_at) values ('p', 1, 'x', 'P-0002', now(), 'P-0002', now())`,
		`insert into procedure_draft_authors values (1, 'P-0002')`,
	)
	conn := dbtest.Connect(t, d.AppURL)
	defer conn.Close(t.Context())
	const forbidden, allowed = "SMFOR", ""
	roles := []string{"P-0001", "P-0002", "P-0003", "P-0004", "P-0005"} // engineer, supervisor, quality, administrator, quality that left
	for what, c := range map[string]struct {
		statement string
		wants     [5]string
	}{
		"start a draft":             {`select start_draft('new', null, '', $1, now())`, [5]string{allowed, allowed, allowed, forbidden, forbidden}},
		"save a draft":              {`select save_draft(1, 1, 'y', $1, now())`, [5]string{allowed, allowed, allowed, forbidden, forbidden}},
		"save an old version":       {`select save_draft(1, 7, 'y', $1, now())`, [5]string{"SMCON", "SMCON", "SMCON", forbidden, forbidden}},
		"throw a draft away":        {`select discard_draft(1, 1, $1, now())`, [5]string{forbidden, allowed, allowed, forbidden, forbidden}},
		"submit a draft":            {`select submit_draft(1, 1, $1, 'p', 2, 'why', now())`, [5]string{allowed, allowed, allowed, forbidden, forbidden}},
		"submit under another key":  {`select submit_draft(1, 1, $1, 'r', 2, 'why', now())`, [5]string{"SMINV", "SMINV", "SMINV", forbidden, forbidden}},
		"submit over a revision":    {`select submit_draft(1, 1, $1, 'p', 1, 'why', now())`, [5]string{"SMINV", "SMINV", "SMINV", forbidden, forbidden}},
		"approve a revision":        {`select approve_procedure('p', 1, $1, 'password', now())`, [5]string{forbidden, forbidden, allowed, forbidden, forbidden}},
		"reject a revision":         {`select reject_procedure('p', 1, $1, 'why', now())`, [5]string{forbidden, forbidden, allowed, forbidden, forbidden}},
		"reject without a reason":   {`select reject_procedure('p', 1, $1, '', now())`, [5]string{forbidden, forbidden, "23514", forbidden, forbidden}},
		"retire a procedure":        {`select retire_procedure('p', $1, 'why', now())`, [5]string{forbidden, forbidden, allowed, forbidden, forbidden}},
		"retire one there is not":   {`select retire_procedure('none', $1, 'why', now())`, [5]string{"SMNOT", "SMNOT", "SMNOT", "SMNOT", "SMNOT"}},
		"approve what one submits":  {`select submit_draft(1, 1, $1, 'p', 2, 'why', now()), approve_procedure('p', 2, $1, 'password', now())`, [5]string{forbidden, forbidden, forbidden, forbidden, forbidden}},
		"write an act of procedure": {`select note_procedure('procedure approved', $1, now(), 'p', '')`, [5]string{"42501", "42501", "42501", "42501", "42501"}},
	} {
		for i, person := range roles {
			tx, err := conn.Begin(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			_, err = tx.Exec(t.Context(), c.statement, person)
			var refusal *pgconn.PgError
			got := ""
			if errors.As(err, &refusal) {
				got = refusal.Code
			} else if err != nil {
				got = err.Error()
			}
			if got != c.wants[i] {
				t.Errorf("%s, as %s: %q, wants %q: %v", what, person, got, c.wants[i], err)
			}
			if err := tx.Rollback(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
	}
}
