package backup_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/backup"
	"settlemark/internal/certificate"
)

// drill runs a drill and checks that it leaves nothing behind.
func drill(t *testing.T, d backup.Drill) backup.Report {
	t.Helper()
	scratch, err := os.MkdirTemp("", "drill-") // short: a socket's path is
	must(t, err)
	defer os.RemoveAll(scratch)
	must(t, os.Chmod(scratch, 0o777))
	before := os.Getenv("TMPDIR")
	must(t, os.Setenv("TMPDIR", scratch))
	defer os.Setenv("TMPDIR", before)
	d.Policy, d.Log, d.Now = policy, quiet, time.Now
	d.Trust = certificate.Trust{Now: time.Now(), Passkey: act.CheckPasskey}
	r := d.Run(t.Context())
	if left, err := os.ReadDir(scratch); err != nil || len(left) > 0 {
		t.Errorf("the drill left %v, %v", left, err)
	}
	links, _ := filepath.Glob("/proc/[0-9]*/cwd")
	for _, link := range links {
		if cwd, err := os.Readlink(link); err == nil && strings.HasPrefix(cwd, scratch) {
			t.Errorf("%s still works in %s", link, cwd)
		}
	}
	t.Log("\n" + r.Text())
	return r
}

// fails checks that the drill failed and names the cause.
func fails(t *testing.T, r backup.Report, cause string) {
	t.Helper()
	if r.Proven() || !strings.Contains(r.Text(), "FAILED") || !slices.ContainsFunc(r.Faults, func(f string) bool { return strings.Contains(f, cause) }) {
		t.Errorf("expected a failure that names %q: %v", cause, r.Faults)
	}
}

// P13 of the promises.
func TestDrill(t *testing.T) {
	d := dbtest.New(t)
	f := create(t, d, backup.Key{})
	t.Run("proves_a_whole_backup_up_to_the_checkpoint_from_outside", func(t *testing.T) {
		r := drill(t, backup.Drill{File: &f, Checkpoint: highmark})
		if !r.Proven() || r.Missing != 0 || r.Entries < 1000 || r.Certificates < 5 || !strings.Contains(r.Text(), "complete to entry") {
			t.Errorf("%s", r.Text())
		}
		fmt.Printf("figure: a backup file: %.1f s, %d entries, %d certificates verified\n", r.Took.Seconds(), r.Entries, r.Certificates)
	})
	t.Run("fails_on_a_file_with_one_byte_changed", func(t *testing.T) {
		text, err := os.ReadFile(f.Path)
		must(t, err)
		text[len(text)/2] ^= 1
		changed := backup.File{Path: filepath.Join(t.TempDir(), "changed.backup")}
		must(t, os.WriteFile(changed.Path, text, 0o600))
		fails(t, drill(t, backup.Drill{File: &changed, Checkpoint: highmark}), "damaged")
	})
	t.Run("fails_on_a_record_with_one_row_removed_and_names_it", func(t *testing.T) {
		d := dbtest.Unsound(t)
		dbtest.Exec(t, d.AdminURL, "alter table settlemark.entries disable trigger all",
			"delete from settlemark.entries where (run_id, seq) = (select run_id, max(seq) from settlemark.entries group by run_id order by run_id limit 1)",
			"alter table settlemark.entries enable trigger all", "alter table settlemark.entries enable always trigger append_only")
		f := create(t, d, backup.Key{})
		fails(t, drill(t, backup.Drill{File: &f, Checkpoint: highmark}), "holds")
	})
	t.Run("fails_on_a_certificate_whose_file_was_changed", func(t *testing.T) {
		d := dbtest.Unsound(t)
		dbtest.Exec(t, d.AdminURL, "alter table settlemark.certificate_pdfs disable trigger all",
			"update settlemark.certificate_pdfs c set pdf = n.pdf, digest = sha256(n.pdf) from (select number, set_byte(pdf, 2000, get_byte(pdf, 2000) # 1) as pdf"+
				" from settlemark.certificate_pdfs order by number limit 1) n where n.number = c.number",
			"alter table settlemark.certificate_pdfs enable trigger all", "alter table settlemark.certificate_pdfs enable always trigger append_only")
		f := create(t, d, backup.Key{})
		fails(t, drill(t, backup.Drill{File: &f, Checkpoint: highmark}), "certificate C-0001: ")
	})
	t.Run("says_how_many_entries_came_after_an_older_backup", func(t *testing.T) {
		acts := actsOn(t, d.DB)
		later(t, d, acts)
		newest, err := os.ReadFile(acts.Log.HighWater())
		must(t, err)
		r := drill(t, backup.Drill{File: &f, Checkpoint: newest})
		fails(t, r, "the record is older than it")
		if r.Missing < 1 || !strings.Contains(r.Text(), "after this backup are missing") {
			t.Errorf("%d missing: %s", r.Missing, r.Text())
		}
	})
	t.Run("fails_on_a_checkpoint_of_another_log", func(t *testing.T) {
		fails(t, drill(t, backup.Drill{File: &f, Checkpoint: []byte("other.example/1\n1\nAAAA\n")}), "checkpoint from outside")
	})
}
