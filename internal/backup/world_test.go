package backup_test

import (
	"context"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"settlemark/db"
	"settlemark/db/dbtest"
	"settlemark/internal/act"
	"settlemark/internal/auth/authtest"
	"settlemark/internal/backup"
	"settlemark/internal/certificate"
	"settlemark/internal/demo"
	"settlemark/internal/fsck"
)

// begun is when the tests began; the demo's history ends there.
var begun = time.Now().Truncate(time.Second)

// The keys of the record that every test begins with.
var (
	signer   *certificate.Signer
	logKey   []byte
	highmark []byte // the newest checkpoint
	policy   string
)

func TestMain(m *testing.M) { dbtest.Main(m, furnish) }

// furnish loads the demo, with its log sealed and its certificates issued.
func furnish(d *dbtest.Database) error {
	ctx := context.Background()
	keys, err := os.MkdirTemp("", "settlemark-keys-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(keys)
	acts := act.New(d.DB, quiet, authtest.Secrets())
	acts.Log = act.Log{Key: filepath.Join(keys, "log.key"), Host: "backup.example"}
	if signer, err = certificate.NewSigner("backup.example", begun.AddDate(-1, 0, 0)); err != nil {
		return err
	}
	acts.Signers = certificate.Signers{signer}
	if err := acts.OpenLog(ctx, begun); err != nil {
		return err
	}
	if _, err := demo.Load(ctx, acts, d.DB, begun); err != nil {
		return err
	}
	if err := sealAll(ctx, acts); err != nil {
		return err
	}
	if _, err := acts.IssueMissing(ctx); err != nil {
		return err
	}
	if err := sealAll(ctx, acts); err != nil {
		return err
	}
	if policy, err = acts.LogPolicy(ctx); err != nil {
		return err
	}
	if logKey, err = os.ReadFile(acts.Log.Key); err != nil {
		return err
	}
	highmark, err = os.ReadFile(acts.Log.HighWater())
	return err
}

func sealAll(ctx context.Context, acts *act.Acts) error {
	for {
		sealed, err := acts.Seal(ctx, time.Now())
		if err != nil || sealed == 0 {
			return err
		}
	}
}

// actsOn works on a database with the keys of the record; its high-water file is
// that of the beginning.
func actsOn(t *testing.T, d *db.DB) *act.Acts {
	t.Helper()
	keys := t.TempDir()
	acts := act.New(d, slog.New(slog.NewTextHandler(t.Output(), nil)), authtest.Secrets())
	acts.Log = act.Log{Key: filepath.Join(keys, "log.key"), Host: "backup.example"}
	acts.Signers = certificate.Signers{signer}
	must(t, os.WriteFile(acts.Log.Key, logKey, 0o600))
	must(t, os.WriteFile(acts.Log.HighWater(), highmark, 0o600))
	return acts
}

var count atomic.Int64

// emptyBeside makes an empty database on the server of d.
func emptyBeside(t *testing.T, d *dbtest.Database) backup.Target {
	t.Helper()
	name := fmt.Sprintf("empty_%d", count.Add(1))
	u, err := url.Parse(d.AdminURL)
	must(t, err)
	u.Path = "/postgres"
	dbtest.Exec(t, u.String(), "create database "+name+" owner settlemark_owner")
	u, err = url.Parse(d.OwnerURL)
	must(t, err)
	u.Path = "/" + name
	return backup.Target{Address: u.String(), Serving: "settlemark_app"}
}

// create writes a backup of d.
func create(t *testing.T, d *dbtest.Database, key backup.Key) backup.File {
	t.Helper()
	f := backup.File{Path: filepath.Join(t.TempDir(), "record.backup"), Key: key}
	_, _, err := f.Create(t.Context(), dbtest.Open(t, d.OwnerURL), d.OwnerURL, false)
	must(t, err)
	return f
}

// restored reads a backup into a new database and gives its owner's address.
func restored(t *testing.T, d *dbtest.Database, f backup.File, outside ...[]byte) (backup.Restored, string) {
	t.Helper()
	m, err := f.Check()
	must(t, err)
	target := emptyBeside(t, d)
	r, err := f.Restore(t.Context(), m, target, fsck.Outside{Policy: policy, Checkpoints: outside}, quiet)
	must(t, err)
	return r, target.Address
}

var quiet = slog.New(slog.DiscardHandler)

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
