package db

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Logbook reads a run with everything recorded about it, as of one instant.
// For somebody who may still have to read the print sample with eyes of their
// own it comes blinded: the safe way is the default way.
func (d *DB) Logbook(ctx context.Context, p commissioning.Person, id commissioning.RunID) (b Book, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Logbook(%s, %s)", p.ID, id)
	all, sites := evidence(p)
	err = d.snapshot(ctx, func(q querier) (err error) {
		if b, err = readBook(ctx, q, id, p.ID, all, sites); err != nil {
			return err
		}
		b.Changed, err = column[string](ctx, q, runChanges, args{"run": id})
		return err
	})
	if b.BlindFor(p) {
		b = b.Blinded()
	}
	return b, err
}

// StreamBook reads a run for a stream that goes to every screen of its site.
// It depends on no viewer and is always blinded while the run is not released.
func (d *DB) StreamBook(ctx context.Context, id commissioning.RunID) (b Book, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "StreamBook(%s)", id)
	err = d.snapshot(ctx, func(q querier) (err error) {
		b, err = readBook(ctx, q, id, "", true, []int64{})
		return err
	})
	return b.Blinded(), err
}

// LockLogbook reads a run for person by and keeps others from changing it until
// this transaction ends. Nothing in it is blinded.
func (t *Tx) LockLogbook(ctx context.Context, id commissioning.RunID, by commissioning.PersonID) (Book, error) {
	if err := t.exec(ctx, lockRun, args{"run": id}); err != nil {
		return Book{}, err
	}
	b, err := readBook(ctx, t.tx, id, by, true, []int64{})
	if err != nil {
		return Book{}, err
	}
	b.Changed, err = column[string](ctx, t.tx, runChanges, args{"run": id})
	return b, err
}

const runChanges = `select run_changes(@run)`

// Changed says what of a run is no longer as it was stored or signed; nothing
// while the record is whole. Who asks has read the run or its certificate.
func (d *DB) Changed(ctx context.Context, id commissioning.RunID) (_ []string, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Changed(%s)", id)
	return column[string](ctx, d.pool, runChanges, args{"run": id})
}

func readBook(ctx context.Context, q querier, id commissioning.RunID, by commissioning.PersonID, all bool, sites []int64) (b Book, err error) {
	if b.Run, err = readRun(ctx, q, id, all, sites); err != nil {
		return Book{}, err
	}
	if b.Opening, err = value[[]byte](ctx, q, runOpening, args{"run": id}); err != nil {
		return Book{}, err
	}
	if err := b.opened(b.Opening); err != nil {
		return Book{}, err
	}
	if b.Makeup, err = readFluid(ctx, q, b.Unit.Makeup); err != nil {
		return Book{}, err
	}
	if b.Procedure, err = readProcedure(ctx, q, b.Run.Procedure, b.Run.Revision); err != nil {
		return Book{}, err
	}
	entries, err := readEntries(ctx, q, []string{string(id)})
	if err != nil {
		return Book{}, err
	}
	b.Entries = entries[id]
	if b.Posts, err = column[int](ctx, q, postSeqs, args{"run": id}); err != nil {
		return Book{}, err
	}
	if err := readSigned(ctx, q, &b, by); err != nil {
		return Book{}, err
	}
	if b.Photos, err = list[Photo](ctx, q, photos, args{"run": id}); err != nil {
		return Book{}, err
	}
	b.Names, err = readNames(ctx, q)
	return b, err
}

const runOpening = `select opening from runs where id = @run`

const postSeqs = `select last_seq from posts where run_id = @run order by last_seq`

// opened fills in the unit, the site and the instruments as they were when the
// run was opened.
func (b *Book) opened(body []byte) error {
	var o commissioning.Opening
	if err := json.Unmarshal(body, &o); err != nil {
		return unreadable(fmt.Errorf("opening of run %s: %w", b.Run.ID, err))
	}
	b.Unit = commissioning.Unit{
		Tag: o.Unit.Tag, Site: b.Run.Site, Line: o.Unit.Line, Serial: o.Unit.Serial, Ink: o.Unit.Ink, Makeup: o.Unit.Makeup,
	}
	b.Site = commissioning.Site{
		ID: b.Run.Site, Name: o.Site.Name, Address: o.Site.Address, TimeZone: o.Site.TimeZone, Paper: o.Site.Paper, Demo: b.Run.Demo,
	}
	b.Instruments = o.Instruments
	return nil
}

// unreadable is said of stored bytes that the app can't have written.
func unreadable(cause error) error {
	return &problem.Error{
		Kind: problem.Conflict, Cause: cause,
		Sentence: words.Say("This record has been changed since it was stored, and a part of it can't be read any more. Tell quality."),
	}
}

const entries = `
select run_id::text as run, seq, received_at, body from entries
where run_id = any(@runs::text[]::uuid[])
order by run_id, seq`

type entryRow struct {
	Run        commissioning.RunID
	Seq        int
	ReceivedAt time.Time
	Body       []byte
}

func (r entryRow) entry() (commissioning.Entry, error) {
	var e commissioning.Entry
	if err := json.Unmarshal(r.Body, &e); err != nil {
		return e, unreadable(fmt.Errorf("run %s entry %d: %w", r.Run, r.Seq, err))
	}
	e.Seq, e.ReceivedAt = r.Seq, &r.ReceivedAt
	return e, nil
}

// readEntries gives the entries of each run in order of seq.
func readEntries(ctx context.Context, q querier, runs []string) (map[commissioning.RunID][]commissioning.Entry, error) {
	rows, err := list[entryRow](ctx, q, entries, args{"runs": runs})
	if err != nil {
		return nil, err
	}
	all := map[commissioning.RunID][]commissioning.Entry{}
	for _, r := range rows {
		e, err := r.entry()
		if err != nil {
			return nil, err
		}
		all[r.Run] = append(all[r.Run], e)
	}
	return all, nil
}

// Entries gives the entries of a run as of this transaction.
func (t *Tx) Entries(ctx context.Context, id commissioning.RunID) ([]commissioning.Entry, error) {
	all, err := readEntries(ctx, t.tx, []string{string(id)})
	return all[id], err
}
