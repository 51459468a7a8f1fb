package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
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

// SetAsideRecord is a record that could not become an entry, as it was sent.
type SetAsideRecord struct {
	Key       string
	Run       commissioning.RunID
	RunNumber commissioning.RunNumber
	Unit      string
	TimeZone  string
	Device    string
	N         int
	Name      string // of its writer
	Why       string
	StoredAt  time.Time
	Body      []byte
}

const setAsideRecords = `
select s.key::text, s.run_id::text as run, r.number as run_number, r.unit, si.time_zone, s.device, s.n, p.name, s.why, s.stored_at, s.body
from set_aside s join runs r on r.id = s.run_id join sites si on si.id = r.site_id join persons p on p.id = s.person_id
where (@all or r.site_id = any(@sites)) and (@key = '' or s.key::text = @key)
order by s.stored_at desc, s.key limit 500`

// SetAsideRecords gives what was set aside in runs that the person may read,
// newest first: all of it, or the one with that key.
func (d *DB) SetAsideRecords(ctx context.Context, p commissioning.Person, key string) (_ []SetAsideRecord, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "SetAsideRecords(%s, %s)", p.ID, key)
	all, sites := evidence(p)
	return list[SetAsideRecord](ctx, d.pool, setAsideRecords, args{"key": key, "all": all, "sites": sites})
}
