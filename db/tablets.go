package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
)

// TabletRecord is the place of one record among those that a tablet sends: what
// one person wrote into one run is numbered from 1, and each record carries the
// digest of the one before.
type TabletRecord struct {
	Run      commissioning.RunID
	Person   commissioning.PersonID
	Device   string
	N        int
	Key      string // id of its entry
	Previous []byte // SHA-256 of record N-1, nothing for the first
	Digest   []byte // SHA-256 of the record as it was sent
	OffsetMS *int64 // server's clock minus the tablet's; nil when it was never measured
	JumpMS   *int64 // by how much the tablet's clock was turned since then; nil when it was not
	App      string // the release that wrote it
}

// Hearing is what a record is to the run.
type Hearing struct {
	Outcome string // new, again, aside, gap or broken
	Wanted  int    // the missing number, of a gap
	Why     string // of a record that was set aside before
}

const hearRecord = `
select outcome, wanted, why from hear_record(@run, @person, @device, @n, @key, @previous, @digest)`

// Hear says what a record is to the run, and holds the run until this transaction ends.
func (t *Tx) Hear(ctx context.Context, r TabletRecord) (Hearing, error) {
	return one[Hearing](ctx, t.tx, hearRecord, r.args())
}

const keepRecord = `
select keep_record(@run, @person, @device, @n, @key, @previous, @digest, @offset, @jump, @app, @at)`

// Keep notes that a record was heard whose entry is stored.
func (t *Tx) Keep(ctx context.Context, r TabletRecord, at time.Time) error {
	a := r.args()
	a["offset"], a["jump"], a["app"], a["at"] = r.OffsetMS, r.JumpMS, r.App, at
	return t.exec(ctx, keepRecord, a)
}

const setAside = `
select set_record_aside(@run, @person, @device, @n, @key, @body, @why, @at)`

// SetAside keeps a record that can't become an entry, as it was sent.
func (t *Tx) SetAside(ctx context.Context, r TabletRecord, body []byte, why string, at time.Time) error {
	return t.exec(ctx, setAside, args{
		"run": r.Run, "person": r.Person, "device": r.Device, "n": r.N, "key": r.Key, "body": body, "why": why, "at": at,
	})
}

func (r TabletRecord) args() args {
	return args{
		"run": r.Run, "person": r.Person, "device": r.Device, "n": r.N, "key": r.Key,
		"previous": append([]byte{}, r.Previous...), "digest": r.Digest, // never null
	}
}
