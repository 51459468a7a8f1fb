package doctor_test

import (
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"settlemark/db"
	"settlemark/db/dbtest"
	"settlemark/internal/doctor"
)

func TestMain(m *testing.M) { dbtest.Main(m) }

// about gives what is found of a thing; that it is wrong ends with what to do.
func about(t *testing.T, thing string, all ...doctor.Finding) string {
	t.Helper()
	for _, f := range all {
		if f.About == thing {
			return strings.TrimSpace(f.Says + " " + f.Do)
		}
	}
	return ""
}

func TestDatabase(t *testing.T) {
	d := dbtest.New(t)
	all := doctor.Database(t.Context(), d.DB, time.Now)
	for thing, want := range map[string]string{
		"database":   "Postgres 15 answers",
		"durability": "Grade C: what was acknowledged may be lost", // servers of tests give it up for speed
		"tables":     "at migration ", "rights": "the login that serves can't change evidence", "clock": "this machine and the database agree",
	} {
		if got := about(t, thing, all...); !strings.HasPrefix(got, want) {
			t.Errorf("%s: %q", thing, got)
		}
	}
	t.Run("a clock that is off", func(t *testing.T) {
		all := doctor.Database(t.Context(), d.DB, func() time.Time { return time.Now().Add(-time.Minute) })
		if got := about(t, "clock", all...); !strings.Contains(got, "are 1m0s apart. Let both machines follow") {
			t.Error(got)
		}
	})
	t.Run("tables that are older than the program", func(t *testing.T) {
		dbtest.Exec(t, d.AdminURL, "delete from settlemark.schema_versions where version_id = (select max(version_id) from settlemark.schema_versions)")
		if got := about(t, "tables", doctor.Database(t.Context(), d.DB, time.Now)...); !strings.Contains(got, "Start this program once with DATABASE_OWNER_URL") {
			t.Error(got)
		}
	})
	t.Run("a login that could change evidence", func(t *testing.T) {
		admin, err := db.Open(t.Context(), d.AdminURL, slog.New(slog.DiscardHandler))
		if err != nil {
			t.Fatal(err)
		}
		defer admin.Close()
		if got := about(t, "rights", doctor.Database(t.Context(), admin, time.Now)...); !strings.Contains(got, "is a superuser, who could change evidence") {
			t.Error(got)
		}
	})
	t.Run("a database that is away", func(t *testing.T) {
		d.Close()
		if got := about(t, "database", doctor.Database(t.Context(), d.DB, time.Now)...); !strings.Contains(got, "It does not answer") {
			t.Error(got)
		}
	})
}

func TestGrade(t *testing.T) {
	sound := db.Durability{Fsync: true, FullPageWrites: true, SynchronousCommit: "on"}
	with := func(change func(*db.Durability)) db.Durability {
		d := sound
		change(&d)
		return d
	}
	for want, all := range map[db.Grade][]db.Durability{
		db.GradeA: {with(func(d *db.Durability) { d.Standbys = "ANY 1 (a, b)" })},
		db.GradeB: {sound, with(func(d *db.Durability) { d.Standbys, d.SynchronousCommit = "a", "local" })},
		db.GradeC: {
			with(func(d *db.Durability) { d.Fsync = false }), with(func(d *db.Durability) { d.FullPageWrites = false }),
			with(func(d *db.Durability) { d.SynchronousCommit = "off" }), with(func(d *db.Durability) { d.Standbys, d.SynchronousCommit = "a", "remote_write" }),
		},
	} {
		for _, d := range all {
			if d.Grade() != want {
				t.Errorf("%+v is of grade %s, want %s", d, d.Grade(), want)
			}
		}
	}
}

func TestFiles(t *testing.T) {
	dir, now := t.TempDir(), time.Now()
	key := filepath.Join(dir, "key")
	if got := doctor.Secret("key", key, ""); got != nil {
		t.Errorf("one that may be missing: %v", got)
	}
	if got := about(t, "key", doctor.Secret("key", key, "Bring it back.")...); !strings.HasSuffix(got, "is missing. Bring it back.") {
		t.Error(got)
	}
	if err := os.WriteFile(key, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if got := about(t, "key", doctor.Secret("key", key, "")...); !strings.Contains(got, "Others can read") || !strings.Contains(got, "chmod 600") {
		t.Error(got)
	}
	if got := about(t, "backups", doctor.Backups(dir, now)); !strings.HasPrefix(got, "the newest, key, is 0 hours old") {
		t.Error(got)
	}
	if got := about(t, "backups", doctor.Backups(dir, now.Add(30*time.Hour))); !strings.Contains(got, "30 hours old. Have settlemark backup run every day") {
		t.Error(got)
	}
	if got := about(t, "backups", doctor.Backups(filepath.Join(dir, "none"), now)); !strings.Contains(got, "Name the folder") {
		t.Error(got)
	}
	if got := about(t, "disk", doctor.Disk(filepath.Join(dir, "none"))); !strings.Contains(got, "See that the folder exists") {
		t.Error(got)
	}
	day := 24 * time.Hour
	for end, want := range map[time.Time]string{now.Add(-day): "It ended on", now.Add(10*day + time.Hour): "It ends in 10 days", now.Add(40*day + time.Hour): "good for 40 days"} {
		if got := about(t, "https", doctor.Ends("https", end, now, 30*day, "Renew it.")); !strings.HasPrefix(got, want) {
			t.Error(got)
		}
	}
}

func TestDoor(t *testing.T) {
	for _, c := range []struct {
		listen, public string
		https, proxy   bool
		want           string
	}{
		{"127.0.0.1:8080", "", false, false, "SETTLEMARK_URL is not set."},
		{"0.0.0.0:8080", "https://a.example", false, false, "where nobody can sign in from another machine"},
		{"0.0.0.0:8080", "https://a.example", false, true, "http on 0.0.0.0:8080 behind https://a.example"},
		{":443", "https://a.example", true, false, "https on :443"},
		{"8080", "", false, false, "is none."},
	} {
		if got := about(t, "address", doctor.Door(c.listen, c.public, c.https, c.proxy)); !strings.Contains(got, c.want) {
			t.Errorf("%+v: %s", c, got)
		}
	}
	if got := about(t, "mail", doctor.Reached(t.Context(), "mail", "127.0.0.1", 1)); !strings.Contains(got, "It is not reached at 127.0.0.1:1") {
		t.Error(got)
	}
}
