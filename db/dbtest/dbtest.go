// Package dbtest gives each test a migrated Postgres database of its own, and
// one oracle, Check, that says whether the record in it is sound.
//
// A test binary runs one private server: call Main from TestMain, then New in
// each test. For tests only.
package dbtest

import (
	"context"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"settlemark/db"
	"settlemark/internal/fsck"
	"settlemark/internal/privatepg"
)

const (
	appLogin = "settlemark_app"
	template = "settlemark" // the server's own database, migrated and then only copied
)

var (
	server *privatepg.Server
	count  atomic.Int64
)

// Main runs the tests of a package with a private Postgres around them. What
// prepare writes is there at the start of every test.
func Main(m *testing.M, prepare ...func(d *Database) error) {
	os.Exit(around(m, prepare))
}

func around(m *testing.M, prepare []func(d *Database) error) int {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	var err error
	if server, err = privatepg.StartThrowaway(ctx, slog.New(slog.DiscardHandler)); err != nil {
		fmt.Fprintln(os.Stderr, "the tests need a Postgres server (package postgresql):", err)
		return 1
	}
	defer server.Close()
	if err := db.Migrate(ctx, server.OwnerURL(), appLogin); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	for _, p := range prepare {
		if err := furnish(ctx, p); err != nil {
			fmt.Fprintln(os.Stderr, "what every test begins with:", err)
			return 1
		}
	}
	return m.Run()
}

// furnish fills the template; it can be copied when nobody is connected.
func furnish(ctx context.Context, prepare func(d *Database) error) error {
	d := &Database{AppURL: server.AppURL(), OwnerURL: server.OwnerURL(), AdminURL: server.AdminURL()}
	var err error
	if d.DB, err = db.Open(ctx, d.AppURL, slog.New(slog.DiscardHandler)); err != nil {
		return err
	}
	defer d.Close()
	return prepare(d)
}

// Database is one test's own database.
type Database struct {
	*db.DB
	AppURL   string // as the program serves
	OwnerURL string // as migrations run
	AdminURL string // as a superuser: for tests that play the attacker
}

// New makes a database and opens it as the program does. When the test ends,
// the record in it must be sound; see Unsound.
func New(t testing.TB) *Database {
	d := Unsound(t)
	t.Cleanup(func() {
		faults, err := Check(context.Background(), d.AdminURL)
		if err != nil {
			t.Errorf("check of the record: %v", err)
		}
		for _, fault := range faults {
			t.Errorf("the record is not sound: %s", fault)
		}
	})
	return d
}

// Check reads the whole record behind the address and gives what is wrong with
// it, one line each; none when it is sound.
func Check(ctx context.Context, address string) ([]string, error) {
	open, err := db.Open(ctx, address, slog.New(slog.DiscardHandler))
	if err != nil {
		return nil, err
	}
	defer open.Close()
	report, err := fsck.Check(ctx, open, fsck.Outside{})
	return report.Faults, err
}

// Unsound is New for a test that damages the record on purpose.
func Unsound(t testing.TB) *Database {
	t.Helper()
	name := fmt.Sprintf("test_%d", count.Add(1))
	d := &Database{
		AppURL:   rename(t, server.AppURL(), name),
		OwnerURL: rename(t, server.OwnerURL(), name),
		AdminURL: rename(t, server.AdminURL(), name),
	}
	Exec(t, rename(t, server.AdminURL(), "postgres"),
		"create database "+name+" template "+template+" strategy file_copy owner settlemark_owner",
		"revoke all on database "+name+" from public", // rights of a database are not copied
		"grant connect on database "+name+" to "+appLogin)
	d.DB = Open(t, d.AppURL)
	return d
}

// Open opens a database as the program does, until the test ends.
func Open(t testing.TB, address string) *db.DB {
	t.Helper()
	open, err := db.Open(t.Context(), address, slog.New(slog.NewTextHandler(t.Output(), nil)))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(open.Close)
	return open
}

// Exec runs statements on a connection of its own.
func Exec(t testing.TB, address string, statements ...string) {
	t.Helper()
	if err := Run(t.Context(), address, statements...); err != nil {
		t.Fatal(err)
	}
}

// Run is Exec outside of a test.
func Run(ctx context.Context, address string, statements ...string) error {
	conn, err := connect(ctx, address)
	if err != nil {
		return err
	}
	defer conn.Close(ctx) //nolint:errcheck // nothing is pending
	for _, s := range statements {
		if _, err := conn.Exec(ctx, s); err != nil {
			return fmt.Errorf("%s: %w", s, err)
		}
	}
	return nil
}

// Connect opens a connection with our schema in front; the caller closes it.
func Connect(t testing.TB, address string) *pgx.Conn {
	t.Helper()
	conn, err := connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	return conn
}

func connect(ctx context.Context, address string) (*pgx.Conn, error) {
	config, err := pgx.ParseConfig(address)
	if err != nil {
		return nil, err
	}
	config.RuntimeParams["search_path"] = "settlemark"
	return pgx.ConnectConfig(ctx, config)
}

func rename(t testing.TB, address, database string) string {
	t.Helper()
	u, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	u.Path = "/" + database
	return u.String()
}
