package backup_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"filippo.io/age"

	"settlemark/db/dbtest"
	"settlemark/internal/backup"
	"settlemark/internal/fsck"
	"settlemark/internal/problem"
)

// keyFile writes a key file and reads it.
func keyFile(t *testing.T, text string) (backup.Key, error) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "backup.key")
	must(t, os.WriteFile(path, []byte(text), 0o600))
	return backup.ReadKey(path)
}

func TestRestore(t *testing.T) {
	d := dbtest.New(t)
	before, err := d.RowCounts(t.Context())
	must(t, err)
	t.Run("brings_back_every_row_and_checks_the_record", func(t *testing.T) {
		f := create(t, d, backup.Key{})
		begun := time.Now()
		r, address := restored(t, d, f, highmark)
		t.Logf("%d rows, %d entries, %d leaves restored and checked in %d ms", r.Manifest.Total(), r.Record.Entries, r.Record.Leaves, time.Since(begun).Milliseconds())
		if len(r.Faults) > 0 || r.Record.Entries < 1000 || r.Record.Leaves < 100 {
			t.Errorf("faults %v; %d entries, %d leaves", r.Faults, r.Record.Entries, r.Record.Leaves)
		}
		after, err := dbtest.Open(t, address).RowCounts(t.Context())
		must(t, err)
		for table, n := range before {
			if table != "sessions" && after[table] != n {
				t.Errorf("%s: %d rows before, %d after", table, n, after[table])
			}
		}
		must(t, dbtest.Open(t, strings.Replace(address, "settlemark_owner", "settlemark_app", 1)).CheckRights(t.Context()))
	})
	t.Run("opens_what_a_key_has_encrypted_and_nothing_else_does", func(t *testing.T) {
		identity, err := age.GenerateX25519Identity()
		must(t, err)
		private, err := keyFile(t, identity.String()+"\n")
		must(t, err)
		public, err := keyFile(t, "# of the safe\n"+identity.Recipient().String()+"\n")
		must(t, err)
		phrase, err := keyFile(t, "jars of plum and quince\n")
		must(t, err)
		f := create(t, d, public)
		for _, key := range []backup.Key{{}, public, phrase} {
			if _, err := (backup.File{Path: f.Path, Key: key}).Check(); problem.KindOf(err) != problem.Invalid {
				t.Errorf("opened by another key: %v", err)
			}
		}
		text, err := os.ReadFile(f.Path)
		must(t, err)
		if bytes.Contains(text, []byte("manifest")) {
			t.Error("it is not encrypted")
		}
		if r, _ := restored(t, d, backup.File{Path: f.Path, Key: private}); len(r.Faults) > 0 {
			t.Errorf("%v", r.Faults)
		}
		f = create(t, d, phrase)
		_, err = f.Check()
		must(t, err)
	})
	t.Run("refuses_a_database_that_is_not_empty_and_leaves_it_alone", func(t *testing.T) {
		f := create(t, d, backup.Key{})
		m, err := f.Check()
		must(t, err)
		target := emptyBeside(t, d)
		dbtest.Exec(t, target.Address, "create schema other", "create table other.notes (n int)")
		_, err = f.Restore(t.Context(), m, target, fsck.Outside{}, quiet)
		if problem.KindOf(err) != problem.Conflict || !strings.Contains(err.Error(), "not empty") {
			t.Errorf("%v", err)
		}
		dbtest.Exec(t, target.Address, "select n from other.notes")
	})
}

func TestCreate(t *testing.T) {
	d := dbtest.New(t)
	owner := dbtest.Open(t, d.OwnerURL)
	t.Run("never_replaces_a_file_unless_told", func(t *testing.T) {
		f := create(t, d, backup.Key{})
		before, err := os.ReadFile(f.Path)
		must(t, err)
		if _, _, err := f.Create(t.Context(), owner, d.OwnerURL, false); problem.KindOf(err) != problem.Conflict {
			t.Errorf("%v", err)
		}
		after, err := os.ReadFile(f.Path)
		must(t, err)
		if !bytes.Equal(before, after) {
			t.Error("the file was touched")
		}
		_, _, err = f.Create(t.Context(), owner, d.OwnerURL, true)
		must(t, err)
		alone(t, f)
	})
	t.Run("leaves_nothing_behind_when_the_dump_fails", func(t *testing.T) {
		f := backup.File{Path: filepath.Join(t.TempDir(), "record.backup")}
		wrong := strings.Replace(d.OwnerURL, "settlemark_owner", "nobody_here", 1)
		if _, _, err := f.Create(t.Context(), owner, wrong, false); err == nil {
			t.Error("it was made")
		}
		if left, _ := os.ReadDir(filepath.Dir(f.Path)); len(left) > 0 {
			t.Errorf("left: %v", left)
		}
	})
	t.Run("is_refused_where_row_security_would_hide_rows", func(t *testing.T) {
		d := dbtest.New(t)
		dbtest.Exec(t, d.OwnerURL, "alter table settlemark.runs enable row level security", "alter table settlemark.runs force row level security")
		f := backup.File{Path: filepath.Join(t.TempDir(), "record.backup")}
		if _, _, err := f.Create(t.Context(), dbtest.Open(t, d.OwnerURL), d.OwnerURL, false); err == nil || !strings.Contains(err.Error(), "row-level security") {
			t.Errorf("%v", err)
		}
		if left, _ := os.ReadDir(filepath.Dir(f.Path)); len(left) > 0 {
			t.Errorf("left: %v", left)
		}
		dbtest.Exec(t, d.OwnerURL, "alter table settlemark.runs no force row level security", "alter table settlemark.runs disable row level security")
	})
}

// alone checks that the backup is whole and no draft lies beside it.
func alone(t *testing.T, f backup.File) {
	t.Helper()
	_, err := f.Check()
	must(t, err)
	if left, _ := os.ReadDir(filepath.Dir(f.Path)); len(left) != 1 {
		t.Errorf("beside it: %v", left)
	}
}

func TestDamage(t *testing.T) {
	f := create(t, dbtest.New(t), backup.Key{})
	whole, err := os.ReadFile(f.Path)
	must(t, err)
	tried, found := 0, 0
	try := func(what string, text []byte) {
		tried++
		must(t, os.WriteFile(f.Path, text, 0o600))
		if _, err := f.Check(); problem.KindOf(err) == problem.Invalid {
			found++
		} else {
			t.Errorf("%s: %v", what, err)
		}
	}
	step := max(1, len(whole)/24)
	for offset := 0; offset < len(whole); offset += step {
		changed := bytes.Clone(whole)
		changed[offset] ^= 1
		try("one bit changed", changed)
	}
	for _, offset := range []int{100, 512, 1024, len(whole) - 2000, len(whole) - 1600, len(whole) - 1024, len(whole) - 1} {
		changed := bytes.Clone(whole)
		changed[offset] ^= 0x40
		try("one byte changed near an end", changed)
	}
	for _, n := range []int{0, 10, 600, len(whole) / 2, len(whole) - 1} {
		try("cut off", whole[:n])
	}
	try("more at the end", append(bytes.Clone(whole), 0))
	t.Logf("%d damages of a file of %d bytes, %d found", tried, len(whole), found)
}

func TestKeyFile(t *testing.T) {
	for name, text := range map[string]string{
		"empty": "\n", "a_short_passphrase": "plum\n", "two_passphrases": "jars of plum and quince\njars of plum and apple\n",
		"a_mistyped_public_key": "age1qqqqqqqqqqqqqqqqqq\n", "a_mistyped_private_key": "AGE-SECRET-KEY-1QQQQQQ\n",
	} {
		t.Run("refuses_"+name, func(t *testing.T) {
			if _, err := keyFile(t, text); problem.KindOf(err) != problem.Invalid {
				t.Errorf("%v", err)
			}
		})
	}
}
