package act

import (
	"context"
	"errors"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
)

var errNotYet = errors.New("not yet")

func (a *Acts) OpenRun(ctx context.Context, p commissioning.Person, o Opening, now time.Time) (commissioning.Run, error) {
	return commissioning.Run{}, errNotYet
}
func (a *Acts) Record(ctx context.Context, by Author, run commissioning.RunID, entries []commissioning.Entry, now time.Time) (Recorded, error) {
	return Recorded{}, errNotYet
}
func (a *Acts) StorePhoto(ctx context.Context, p commissioning.Person, run commissioning.RunID, original []byte, now time.Time) (db.Photo, error) {
	return db.Photo{}, errNotYet
}
func (a *Acts) TakePen(ctx context.Context, p commissioning.Person, run commissioning.RunID, note string, now time.Time) (commissioning.Run, error) {
	return commissioning.Run{}, errNotYet
}
func (a *Acts) Abandon(ctx context.Context, p commissioning.Person, run commissioning.RunID, reason string, now time.Time) error {
	return errNotYet
}
func (a *Acts) Submit(ctx context.Context, p commissioning.Person, run commissioning.RunID, s Signing, now time.Time) error {
	return errNotYet
}
func (a *Acts) ReadSample(ctx context.Context, p commissioning.Person, run commissioning.RunID, text string, now time.Time) error {
	return errNotYet
}
func (a *Acts) Rule(ctx context.Context, p commissioning.Person, run commissioning.RunID, head []byte, e commissioning.Entry, now time.Time) (Recorded, error) {
	return Recorded{}, errNotYet
}
func (a *Acts) Return(ctx context.Context, p commissioning.Person, run commissioning.RunID, head []byte, reason string, now time.Time) error {
	return errNotYet
}
func (a *Acts) Countersign(ctx context.Context, p commissioning.Person, run commissioning.RunID, s Signing, mismatchReason string, now time.Time) (commissioning.CertificateNumber, error) {
	return "", errNotYet
}
func (a *Acts) Issue(ctx context.Context, number commissioning.CertificateNumber) error {
	return errNotYet
}
func (a *Acts) Withdraw(ctx context.Context, p commissioning.Person, number commissioning.CertificateNumber, reason string, now time.Time) error {
	return errNotYet
}

// AddProcedure stores a new revision; author nil when it came with the product.
func (a *Acts) AddProcedure(ctx context.Context, author *commissioning.Person, yaml []byte, demo bool, now time.Time) (db.ProcedureRevision, error) {
	return db.ProcedureRevision{}, errNotYet
}
func (a *Acts) ApproveProcedure(ctx context.Context, p commissioning.Person, key string, revision int, password string, now time.Time) error {
	return errNotYet
}
func (a *Acts) SaveSite(ctx context.Context, p commissioning.Person, v commissioning.Site, now time.Time) (commissioning.Site, error) {
	return v, errNotYet
}
func (a *Acts) SaveLine(ctx context.Context, p commissioning.Person, v commissioning.Line, now time.Time) (commissioning.Line, error) {
	return v, errNotYet
}
func (a *Acts) SaveBench(ctx context.Context, p commissioning.Person, v commissioning.Bench, now time.Time) (commissioning.Bench, error) {
	return v, errNotYet
}
func (a *Acts) SaveFluid(ctx context.Context, p commissioning.Person, v commissioning.Fluid, now time.Time) (commissioning.Fluid, error) {
	return v, errNotYet
}
func (a *Acts) SaveUnit(ctx context.Context, p commissioning.Person, v commissioning.Unit, now time.Time) (commissioning.Unit, error) {
	return v, errNotYet
}
func (a *Acts) SaveLogger(ctx context.Context, p commissioning.Person, v commissioning.Logger, now time.Time) (commissioning.Logger, error) {
	return v, errNotYet
}
func (a *Acts) AddPerson(ctx context.Context, p commissioning.Person, v NewPerson, now time.Time) (commissioning.Person, string, error) {
	return commissioning.Person{}, "", errNotYet
}
func (a *Acts) SetGrants(ctx context.Context, p commissioning.Person, id commissioning.PersonID, grants []commissioning.Grant, now time.Time) error {
	return errNotYet
}
func (a *Acts) DisablePerson(ctx context.Context, p commissioning.Person, id commissioning.PersonID, now time.Time) error {
	return errNotYet
}
func (a *Acts) NewInvite(ctx context.Context, p commissioning.Person, id commissioning.PersonID, now time.Time) (string, error) {
	return "", errNotYet
}
func (a *Acts) SignIn(ctx context.Context, login, password, address string, now time.Time) (commissioning.Person, error) {
	return commissioning.Person{}, errNotYet
}
func (a *Acts) UseInvite(ctx context.Context, code, password string, now time.Time) (commissioning.Person, error) {
	return commissioning.Person{}, errNotYet
}
func (a *Acts) SetupCode(ctx context.Context, now time.Time) (code string, needed bool, err error) {
	return "", false, errNotYet
}
func (a *Acts) Setup(ctx context.Context, code, name, login, password string, now time.Time) (commissioning.Person, error) {
	return commissioning.Person{}, errNotYet
}
