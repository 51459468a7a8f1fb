package db

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/jackc/pgx/v5/pgxpool"

	"settlemark/internal/commissioning"
)

var errNotYet = errors.New("not yet")

type (
	person   = commissioning.Person
	personID = commissioning.PersonID
	runID    = commissioning.RunID
	number   = commissioning.CertificateNumber
)

// DB reads the record.
type DB struct {
	pool *pgxpool.Pool
	log  *slog.Logger
}

// Tx writes.
type Tx struct{}

func Open(ctx context.Context, url string, log *slog.Logger) (*DB, error)         { return nil, errNotYet }
func Migrate(ctx context.Context, ownerURL string, appRole string) error          { return errNotYet }
func (d *DB) Close()                                                              {}
func (d *DB) Ping(ctx context.Context) error                                      { return errNotYet }
func (d *DB) CheckRights(ctx context.Context) error                               { return errNotYet }
func (d *DB) InTx(ctx context.Context, fn func(tx *Tx) error) error               { return errNotYet }
func (d *DB) Listen(ctx context.Context, onRun func(runID), onReset func()) error { return errNotYet }
func (d *DB) SessionStore() scs.CtxStore                                          { return nil }

func (d *DB) Person(ctx context.Context, id personID) (person, error) { return person{}, errNotYet }
func (d *DB) People(ctx context.Context) ([]person, error)            { return nil, errNotYet }
func (d *DB) Names(ctx context.Context) (map[personID]string, error)  { return nil, errNotYet }
func (d *DB) Sites(ctx context.Context) ([]commissioning.Site, error) { return nil, errNotYet }
func (d *DB) Site(ctx context.Context, id commissioning.SiteID) (commissioning.Site, error) {
	return commissioning.Site{}, errNotYet
}
func (d *DB) Lines(ctx context.Context, p person) ([]commissioning.Line, error) {
	return nil, errNotYet
}
func (d *DB) Benches(ctx context.Context, p person) ([]commissioning.Bench, error) {
	return nil, errNotYet
}
func (d *DB) Fluids(ctx context.Context) ([]commissioning.Fluid, error) { return nil, errNotYet }
func (d *DB) Units(ctx context.Context, p person) ([]commissioning.Unit, error) {
	return nil, errNotYet
}
func (d *DB) Unit(ctx context.Context, p person, tag string) (commissioning.Unit, error) {
	return commissioning.Unit{}, errNotYet
}
func (d *DB) Loggers(ctx context.Context) ([]commissioning.Logger, error) { return nil, errNotYet }
func (d *DB) Logger(ctx context.Context, id string) (commissioning.Logger, error) {
	return commissioning.Logger{}, errNotYet
}
func (d *DB) Procedures(ctx context.Context) ([]ProcedureRevision, error) { return nil, errNotYet }
func (d *DB) Procedure(ctx context.Context, key string, revision int) (ProcedureRevision, error) {
	return ProcedureRevision{}, errNotYet
}
func (d *DB) Run(ctx context.Context, p person, id runID) (commissioning.Run, error) {
	return commissioning.Run{}, errNotYet
}
func (d *DB) MyRuns(ctx context.Context, p person) ([]commissioning.Run, error) {
	return nil, errNotYet
}
func (d *DB) UnitRuns(ctx context.Context, p person, tag string) ([]commissioning.Run, error) {
	return nil, errNotYet
}
func (d *DB) Logbook(ctx context.Context, p person, id runID) (Book, error) { return Book{}, errNotYet }

// StreamBook reads a run for pages that go to every screen of its site: always blinded.
func (d *DB) StreamBook(ctx context.Context, id runID) (Book, error)  { return Book{}, errNotYet }
func (d *DB) Board(ctx context.Context, p person) ([]BoardRow, error) { return nil, errNotYet }
func (d *DB) Photo(ctx context.Context, p person, run runID, sha256 string) (PhotoBytes, error) {
	return PhotoBytes{}, errNotYet
}
func (d *DB) Certificates(ctx context.Context, p person, f CertificateFilter, now time.Time) ([]commissioning.Certificate, error) {
	return nil, errNotYet
}
func (d *DB) Certificate(ctx context.Context, p person, n number) (commissioning.Certificate, error) {
	return commissioning.Certificate{}, errNotYet
}
func (d *DB) CertificatePDF(ctx context.Context, p person, n number) (pdf []byte, sha256 string, err error) {
	return nil, "", errNotYet
}
func (d *DB) WithoutPDF(ctx context.Context) ([]number, error)       { return nil, errNotYet }
func (d *DB) Document(ctx context.Context, n number) ([]byte, error) { return nil, errNotYet }
func (d *DB) DocumentPhotos(ctx context.Context, n number) (map[string][]byte, error) {
	return nil, errNotYet
}
func (d *DB) Acts(ctx context.Context, p person, f ActFilter) ([]ActRecord, error) {
	return nil, errNotYet
}
