package backup_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	"settlemark/db/dbtest"
	"settlemark/internal/backup"
	"settlemark/internal/fsck"
	"settlemark/internal/privatepg"
)

// archiving is a server that archives its log and holds the record.
type archiving struct {
	privatepg.Copy
	newest []byte // checkpoint of what was recorded after the base backup
}

// archived makes such a server, a base backup of it, writes more, and stops it.
func archived(t *testing.T) archiving {
	t.Helper()
	ctx := t.Context()
	place, err := os.MkdirTemp("", "archived-")
	must(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(place) })
	must(t, os.Chmod(place, 0o755))
	a := archiving{Copy: privatepg.Copy{Base: filepath.Join(place, "base"), WAL: filepath.Join(place, "wal")}}
	server, err := privatepg.Start(ctx, filepath.Join(place, "pg"), quiet)
	must(t, err)
	server.Close()
	owner, err := os.Stat(filepath.Join(place, "pg", "data"))
	must(t, err)
	must(t, os.Mkdir(a.WAL, 0o700))
	must(t, os.Chown(a.WAL, int(owner.Sys().(*syscall.Stat_t).Uid), int(owner.Sys().(*syscall.Stat_t).Gid)))
	settings, err := os.OpenFile(filepath.Join(place, "pg", "data", "postgresql.conf"), os.O_APPEND|os.O_WRONLY, 0)
	must(t, err)
	_, err = fmt.Fprintf(settings, "archive_mode = on\narchive_command = 'cp %%p %s/%%f'\n", a.WAL)
	must(t, err)
	must(t, settings.Close())
	server, err = privatepg.Start(ctx, filepath.Join(place, "pg"), quiet)
	must(t, err)
	defer server.Close()

	f := create(t, dbtest.New(t), backup.Key{})
	m, err := f.Check()
	must(t, err)
	_, err = f.Restore(ctx, m, backup.Target{Address: server.OwnerURL(), Serving: privatepg.AppLogin}, fsck.Outside{}, quiet)
	must(t, err)
	d := &dbtest.Database{DB: dbtest.Open(t, server.AppURL()), AppURL: server.AppURL(), OwnerURL: server.OwnerURL(), AdminURL: server.AdminURL()}
	tools, err := filepath.Glob("/usr/lib/postgresql/*/bin/pg_basebackup")
	must(t, err)
	slices.Reverse(tools)
	program := append(tools, "pg_basebackup")[0]
	if out, err := exec.Command(program, "--pgdata="+a.Base, "--dbname="+server.AdminURL(), "--checkpoint=fast").CombinedOutput(); err != nil {
		t.Fatalf("pg_basebackup: %v: %s", err, out)
	}
	acts := actsOn(t, d.DB)
	for range 3 {
		later(t, d, acts)
		dbtest.Exec(t, d.AdminURL, "select pg_switch_wal()")
	}
	a.newest, err = os.ReadFile(acts.Log.HighWater())
	must(t, err)
	conn := dbtest.Connect(t, d.AdminURL)
	defer conn.Close(ctx)
	for range 300 {
		waiting := 0
		must(t, conn.QueryRow(ctx, `select count(*) from pg_ls_archive_statusdir() where name like '%.ready'`).Scan(&waiting))
		if waiting == 0 {
			return a
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatal("the log was not archived within 15 seconds")
	return a
}

// segments are the archived files in order.
func (a archiving) segments(t *testing.T) (paths []string) {
	t.Helper()
	entries, err := os.ReadDir(a.WAL)
	must(t, err)
	for _, e := range entries {
		if len(e.Name()) == 24 {
			paths = append(paths, filepath.Join(a.WAL, e.Name()))
		}
	}
	if len(paths) < 4 {
		t.Fatalf("%d segments, so this shows nothing", len(paths))
	}
	return paths
}

// flip changes one byte of a file and gives the way back.
func flip(t *testing.T, path string, offset int) (back func()) {
	t.Helper()
	text, err := os.ReadFile(path)
	must(t, err)
	change := func() {
		text[offset] ^= 1
		must(t, os.WriteFile(path, text, 0o600))
	}
	change()
	return change
}

// P13 of the promises, for base backups.
func TestDrillOfBaseBackup(t *testing.T) {
	a := archived(t)
	t.Run("proves_it_up_to_the_last_entry_in_the_archive", func(t *testing.T) {
		r := drill(t, backup.Drill{Base: a.Copy, Checkpoint: a.newest})
		if !r.Proven() || r.Missing != 0 || r.Entries < 1000 || r.Certificates < 5 {
			t.Errorf("%s", r.Text())
		}
		fmt.Printf("figure: a base backup with its archive: %.1f s, %d entries, %d certificates verified\n", r.Took.Seconds(), r.Entries, r.Certificates)
	})
	all := a.segments(t)
	t.Run("fails_on_a_gap_in_the_archive", func(t *testing.T) {
		gap := all[len(all)-2]
		must(t, os.Rename(gap, gap+".away"))
		fails(t, drill(t, backup.Drill{Base: a.Copy, Checkpoint: a.newest}), "gap: "+filepath.Base(gap))
		must(t, os.Rename(gap+".away", gap))
	})
	t.Run("fails_on_one_byte_of_the_log_changed", func(t *testing.T) {
		defer flip(t, all[len(all)-2], 200)()
		fails(t, drill(t, backup.Drill{Base: a.Copy, Checkpoint: a.newest}), "damaged")
	})
	t.Run("fails_on_one_byte_of_the_base_changed", func(t *testing.T) {
		largest, size := "", int64(0)
		files, err := filepath.Glob(filepath.Join(a.Base, "base/*/*"))
		must(t, err)
		for _, name := range files {
			if about, err := os.Stat(name); err == nil && about.Size() > size {
				largest, size = name, about.Size()
			}
		}
		defer flip(t, largest, int(size/2))()
		fails(t, drill(t, backup.Drill{Base: a.Copy, Checkpoint: a.newest}), "pg_verifybackup")
	})
	t.Run("says_how_many_entries_an_archive_that_ends_early_lacks", func(t *testing.T) {
		for _, last := range all[len(all)-2:] { // the last one alone may hold no more than the end of the server
			must(t, os.Rename(last, last+".away"))
		}
		r := drill(t, backup.Drill{Base: a.Copy, Checkpoint: a.newest})
		fails(t, r, "the record is older than it")
		if r.Missing < 1 {
			t.Errorf("%d missing", r.Missing)
		}
	})
}
