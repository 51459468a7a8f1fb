package act

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// clockSlack is how far ahead of ours a clock may be.
const clockSlack = time.Minute

// oldest is how long before its run was opened an entry may be observed.
const oldest = 24 * time.Hour

// post is a post on its way into the record.
type post struct {
	by      Author
	entries []commissioning.Entry // as they will be stored
	ids     []string
	hashes  [][]byte // of each entry as it was sent
	bodies  [][]byte
}

// newPost takes the hash of what was sent, and then adds what the server knows.
func newPost(by Author, entries []commissioning.Entry) (*post, error) {
	p := &post{by: by, entries: slices.Clone(entries)}
	for i, e := range entries {
		if !isUUID(e.ID) {
			return nil, problem.On("id", "Entry %d has no id of its own. Load the page again and enter it anew.", i+1)
		}
		if slices.Contains(p.ids, e.ID) {
			return nil, problem.On("id", "Entry %d has the id of another one of this post.", i+1)
		}
		hash, err := ledger.SentHash(by.sent(e))
		if err != nil {
			return nil, problem.New(problem.Invalid, "Entry %d holds a number that can't be kept exactly.", i+1)
		}
		p.ids, p.hashes = append(p.ids, e.ID), append(p.hashes, hash)
		p.entries[i] = by.sign(e)
	}
	return p, nil
}

// sent is an entry as the author sent it. A form that is sent again is dated
// anew by the server and is the same form all the same.
func (by Author) sent(e commissioning.Entry) commissioning.Entry {
	if by.Form && e.CapturedAt != nil {
		if e.ObservedAt.Equal(*e.CapturedAt) {
			e.ObservedAt = time.Time{}
		}
		e.CapturedAt, e.Clock = nil, nil
	}
	return e
}

// sign adds author, device and a salt. The salt keeps the little that a reading
// says from being guessed from its hash.
func (by Author) sign(e commissioning.Entry) commissioning.Entry {
	e.By = by.code()
	if by.Device != "" {
		e.Device = by.Device
	}
	if e.Via == "" {
		e.Via = "typed"
		if by.Logger != nil {
			e.Via = "logger"
		}
	}
	if by.JumpMS != nil {
		e.Note = strings.TrimSpace(e.Note + turned(*by.JumpMS))
	}
	if by.AfterPen != "" {
		by.late(&e)
	}
	if e.Replacement != nil {
		replacement := *e.Replacement
		replacement.By = e.By
		e.Replacement = &replacement
	}
	if by.Offset != nil {
		e = corrected(e, *by.Offset)
	}
	salt := make([]byte, 16)
	_, _ = rand.Read(salt) // never fails
	e.Salt = hex.EncodeToString(salt)
	return e
}

// clockNoise is what a slow network alone can make of a measured offset.
const clockNoise = 2 * time.Second

// corrected sets the entry's times to the server's clock, when the sender's is
// off by more than noise and the sender has not done so, and keeps what was sent.
func corrected(e commissioning.Entry, offset time.Duration) commissioning.Entry {
	if e.Clock != nil || offset.Abs() <= clockNoise {
		return e
	}
	ms, noise, proven := offset.Milliseconds(), clockNoise.Milliseconds(), true
	e.Clock = &commissioning.Clock{Raw: e.ObservedAt.Format(time.RFC3339Nano), OffsetMS: &ms, ErrorMS: &noise, Proven: &proven}
	e.ObservedAt = e.ObservedAt.Add(offset)
	if e.CapturedAt != nil {
		at := e.CapturedAt.Add(offset)
		e.CapturedAt = &at
	}
	return e
}

// turned is what stands on the record of an entry whose tablet's clock was
// turned before it was written.
func turned(ms int64) string {
	jump, way := time.Duration(ms)*time.Millisecond, "forward"
	if jump < 0 {
		jump, way = -jump, "back"
	}
	return fmt.Sprintf(" The tablet's clock had gone %s by %s, or the tablet had slept.", way, words.Lasting(jump).In(words.English))
}

// late makes what came after the pen had gone over of unproven time, which is
// treated as late.
func (by Author) late(e *commissioning.Entry) {
	clock := commissioning.Clock{}
	if e.Clock != nil {
		clock = *e.Clock
	}
	clock.Proven = new(false)
	e.Clock = &clock
	e.Note = strings.TrimSpace(e.Note + " Sent after the pen had gone to " + by.AfterPen + ".")
}

// fit writes the bodies and checks what is new of the post against the run; the
// first refusal is its error.
func (p *post) fit(ctx context.Context, tx *db.Tx, r commissioning.Run, known []string, now time.Time) error {
	refusals, err := p.judge(ctx, tx, r, known, now)
	if err != nil {
		return err
	}
	for i, refusal := range refusals {
		if refusal != nil {
			return p.named(i, refusal)
		}
	}
	return nil
}

// judge writes the bodies and gives the refusal of each entry, nil where there
// is none.
func (p *post) judge(ctx context.Context, tx *db.Tx, r commissioning.Run, known []string, now time.Time) ([]error, error) {
	procedure, err := tx.Procedure(ctx, r.Procedure, r.Revision)
	if err != nil {
		return nil, err
	}
	book, err := p.neighbours(ctx, tx, r, known)
	if err != nil {
		return nil, err
	}
	photos, err := p.photos(ctx, tx, r)
	if err != nil {
		return nil, err
	}
	p.bodies = make([][]byte, len(p.entries))
	refusals := make([]error, len(p.entries))
	for i, e := range p.entries {
		if p.bodies[i], err = ledger.Body(e); err != nil {
			return nil, err
		}
		if slices.Contains(known, e.ID) {
			continue
		}
		refusals[i] = p.one(e, p.bodies[i], r, procedure.Procedure, book, photos, now)
		if book != nil && refusals[i] == nil {
			e.Seq = len(book.Entries) + 1
			book.Entries = append(book.Entries, e)
		}
	}
	return refusals, nil
}

// one checks one new entry.
func (p *post) one(e commissioning.Entry, body []byte, r commissioning.Run, procedure commissioning.Procedure,
	book *commissioning.Logbook, photos []db.Photo, now time.Time,
) error {
	if err := p.by.may(e, r); err != nil {
		return err
	}
	if _, err := commissioning.DecodeEntry(body, procedure); err != nil {
		return err
	}
	if err := timely(e, r, now); err != nil {
		return err
	}
	if book != nil {
		if err := book.Admits(e); err != nil {
			return err
		}
	}
	for _, shown := range []*commissioning.Entry{&e, e.Replacement} {
		if shown != nil && shown.Kind == commissioning.KindPhoto &&
			!slices.ContainsFunc(photos, func(ph db.Photo) bool { return ph.SHA256 == shown.SHA256 }) {
			return problem.On("sha256", "This photo has not arrived. Take or choose it again.")
		}
	}
	return nil
}

// may asks whether the author may add the entry to the run. Who held the pen when
// they wrote it may as much as another engineer.
func (by Author) may(e commissioning.Entry, r commissioning.Run) error {
	switch {
	case by.Logger != nil:
		return by.Logger.Accepts(e)
	case by.AfterPen != "":
		return commissioning.ReportFault.On(commissioning.Situation{Person: by.Person, Run: r})
	}
	return r.Accepts(e, by.Person)
}

// timely refuses instants that can't be meant.
func timely(e commissioning.Entry, r commissioning.Run, now time.Time) error {
	at := e.ObservedAt
	if e.Replacement != nil {
		at = e.Replacement.ObservedAt
	}
	for _, at := range []time.Time{e.ObservedAt, at} {
		switch {
		case at.After(now.Add(clockSlack)):
			return problem.On("observed_at", "The time lies ahead of the server's clock. Check the time and the tablet's clock.")
		case at.Before(r.OpenedAt.Add(-oldest)):
			return problem.On("observed_at", "The time lies more than a day before run %s was opened. Check the date.", r.Number)
		}
	}
	return nil
}

// neighbours reads the run's entries when the post speaks of other entries; nil
// when it does not, so that a logger's post reads nothing.
func (p *post) neighbours(ctx context.Context, tx *db.Tx, r commissioning.Run, known []string) (*commissioning.Logbook, error) {
	if !slices.ContainsFunc(p.entries, func(e commissioning.Entry) bool {
		return (e.Ref != 0 || e.Strikes != 0) && !slices.Contains(known, e.ID)
	}) {
		return nil, nil
	}
	entries, err := tx.Entries(ctx, r.ID)
	return &commissioning.Logbook{Entries: entries}, err
}

func (p *post) photos(ctx context.Context, tx *db.Tx, r commissioning.Run) ([]db.Photo, error) {
	if !slices.ContainsFunc(p.entries, func(e commissioning.Entry) bool {
		return e.Kind == commissioning.KindPhoto || e.Replacement != nil && e.Replacement.Kind == commissioning.KindPhoto
	}) {
		return nil, nil
	}
	return tx.Photos(ctx, r.ID)
}

// named says which entry of several is meant.
func (p *post) named(i int, err error) error {
	if len(p.entries) == 1 {
		return err
	}
	return fmt.Errorf("entry %d of the post: %w", i+1, err)
}

func (p *post) posting(run commissioning.RunID) db.Posting {
	posting := db.Posting{Run: run, SentHashes: p.hashes, Bodies: p.bodies}
	if p.by.Logger != nil {
		posting.Logger = p.by.Logger.ID
	} else {
		posting.Person = p.by.Person.ID
	}
	return posting
}
