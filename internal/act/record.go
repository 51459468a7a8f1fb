package act

import (
	"context"
	"slices"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// maxPost is the most entries that one post may carry.
const maxPost = 1000

// Record stores a post of 1 to 1,000 entries, all or nothing. The pen holder
// may add all kinds, another engineer of the site a fault or a note, a logger
// what its units report. Dispositions go through Rule.
//
// Entries that are stored already are answered as before. The same id with
// other content is Invalid; a run that is not open is a Conflict.
func (a *Acts) Record(ctx context.Context, by Author, run commissioning.RunID, entries []commissioning.Entry, now time.Time) (Recorded, error) {
	if slices.ContainsFunc(entries, func(e commissioning.Entry) bool { return e.Kind == commissioning.KindDisposition }) {
		return Recorded{}, problem.On("kind", "A supervisor rules on an entry on the review page of the run.")
	}
	return a.record(ctx, by, run, entries, now, func(commissioning.Run) error { return nil })
}

// record stores a post; allowed is asked when the post brings anything new.
func (a *Acts) record(ctx context.Context, by Author, run commissioning.RunID, entries []commissioning.Entry, now time.Time,
	allowed func(commissioning.Run) error,
) (recorded Recorded, err error) {
	if len(entries) == 0 || len(entries) > maxPost {
		return recorded, problem.New(problem.Invalid, "A post carries 1 to 1,000 entries. Send fewer at a time.")
	}
	post, err := newPost(by, entries)
	if err != nil {
		return recorded, err
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		r, err := tx.LockRun(ctx, run)
		if err != nil {
			return err
		}
		if !by.reads(r.Site) {
			return noSuchRun()
		}
		recorded, err = post.store(ctx, tx, r, now, allowed)
		return err
	})
	return recorded, err
}

// store appends the post to a run that is locked.
func (p *post) store(ctx context.Context, tx *db.Tx, r commissioning.Run, now time.Time, allowed func(commissioning.Run) error) (Recorded, error) {
	known, err := tx.Known(ctx, r.ID, p.ids)
	if err != nil {
		return Recorded{}, err
	}
	if len(known) < len(p.entries) {
		if err := allowed(r); err != nil {
			return Recorded{}, err
		}
	}
	if err := p.fit(ctx, tx, r, known, now); err != nil {
		return Recorded{}, err
	}
	stored, err := tx.Append(ctx, p.posting(r.ID))
	if err != nil {
		return Recorded{}, err
	}
	recorded, err := answer(ctx, tx, r.ID, stored)
	if err != nil || recorded.Again {
		return recorded, err
	}
	return recorded, tx.Enqueue(ctx, LookJob{Run: r.ID})
}

func answer(ctx context.Context, tx *db.Tx, run commissioning.RunID, stored []db.Stored) (Recorded, error) {
	r, err := tx.Run(ctx, run)
	recorded := Recorded{Run: r, Again: true}
	for _, s := range stored {
		recorded.Seqs = append(recorded.Seqs, s.StoredSeq)
		recorded.Again = recorded.Again && s.Again
	}
	return recorded, err
}

// code is what an entry carries as its author.
func (by Author) code() string {
	if by.Logger != nil {
		return by.Logger.ID
	}
	return string(by.Person.ID)
}

func (by Author) reads(site commissioning.SiteID) bool {
	if by.Logger != nil {
		return by.Logger.Site == site
	}
	return by.Person.Reads(site)
}
