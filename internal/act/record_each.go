package act

import (
	"context"
	"slices"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// Outcome is what became of one entry of several.
type Outcome struct {
	Seq   int
	Again bool  // it was stored before
	Err   error // why it was refused, nil when it is stored
}

// RecordEach stores those entries of a gateway's post of 1 to 1,000 that can be
// taken, in one transaction, and says of each what became of it. One bad row
// keeps no other out.
//
// What concerns the post as a whole is an error: a unit that the gateway does
// not report for is Forbidden, a run that is not open a Conflict, unless every
// entry is stored already.
func (a *Acts) RecordEach(ctx context.Context, by Author, run commissioning.RunID, entries []commissioning.Entry, now time.Time) ([]Outcome, error) {
	if len(entries) == 0 || len(entries) > maxPost {
		return nil, problem.New(problem.Invalid, "A post carries 1 to 1,000 entries. Send fewer at a time.")
	}
	outcomes, places := sortOut(entries)
	if len(places) == 0 {
		return outcomes, nil
	}
	post, err := newPost(by, pick(entries, places))
	if err != nil {
		return nil, err
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		r, err := tx.LockRun(ctx, run)
		if err != nil {
			return err
		}
		if !by.reads(r.Site) {
			return noSuchRun()
		}
		return post.appendSound(ctx, tx, r, func(i int) *Outcome { return &outcomes[places[i]] }, now)
	})
	return outcomes, err
}

// sortOut refuses entries without an id and those whose id came before, and
// gives the places of the rest.
func sortOut(entries []commissioning.Entry) ([]Outcome, []int) {
	outcomes, places, seen := make([]Outcome, len(entries)), []int{}, map[string]bool{}
	for i, e := range entries {
		switch {
		case !isUUID(e.ID):
			outcomes[i].Err = problem.On("$.id", "expected a UUID in small letters")
		case seen[e.ID]:
			outcomes[i].Err = problem.On("$.id", "expected an id of its own, found that of another entry of this post")
		default:
			places = append(places, i)
		}
		seen[e.ID] = true
	}
	return outcomes, places
}

// appendSound stores what is sound of the post; outcome is where it says what
// became of each entry.
func (p *post) appendSound(ctx context.Context, tx *db.Tx, r commissioning.Run, outcome func(int) *Outcome, now time.Time) error {
	known, err := tx.Known(ctx, r.ID, p.ids)
	if err != nil {
		return err
	}
	clashing, err := tx.Clashes(ctx, r.ID, p.ids, p.hashes)
	if err != nil {
		return err
	}
	refusals, err := p.judge(ctx, tx, r, known, now)
	if err != nil {
		return err
	}
	var sound []int
	for i, refusal := range refusals {
		if slices.Contains(clashing, p.ids[i]) {
			refusal = problem.On("$.id", "expected an id of its own, found one that was stored with other content")
		}
		if outcome(i).Err = refusal; refusal == nil {
			sound = append(sound, i)
		}
	}
	if len(sound) == 0 {
		return nil
	}
	posting := p.posting(r.ID)
	posting.SentHashes, posting.Bodies = pick(posting.SentHashes, sound), pick(posting.Bodies, sound)
	stored, err := tx.Append(ctx, posting)
	for n, s := range stored {
		*outcome(sound[n]) = Outcome{Seq: s.StoredSeq, Again: s.Again}
	}
	return err
}

func pick[T any](all []T, places []int) []T {
	picked := make([]T, len(places))
	for n, i := range places {
		picked[n] = all[i]
	}
	return picked
}
