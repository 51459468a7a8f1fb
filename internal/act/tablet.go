package act

import (
	"context"
	"crypto/sha256"
	"fmt"
	"slices"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Pencil is one record of a tablet: an entry that was written while the server
// could not be reached, with its place among those that the tablet sends.
type Pencil struct {
	Device   string
	N        int    // from 1, of what this person wrote into this run on this tablet
	Previous []byte // SHA-256 of record N-1, nothing for the first
	Body     []byte // the record as it was sent
	OffsetMS *int64 // how far the tablet's clock was off, nil when it was never measured
	JumpMS   *int64 // by how much that clock was turned since, nil when it went on as it should
	App      string
	Seen     int // seq of the newest entry that the tablet had seen
	Entry    commissioning.Entry

	AfterGap bool // the tablet no longer has the records before this one
	Leave    bool // its writer gives up sending it and leaves it with quality
}

// Heard is the answer to a record: stored, set aside, or not before another one.
type Heard struct {
	Recorded
	Aside  string // why it was set aside instead of stored, "" when it was not
	Wanted int    // the number that must come first, 0 when none is missing
}

// Hear stores what a tablet wrote. The same record again is answered as before.
//
// A record that does not follow the one before, that comes after the run was
// abandoned, or that finishes what somebody else finished meanwhile is set aside
// as it was sent, for quality to see. What somebody wrote before the pen went
// over is stored as of unproven time: a supervisor decides whether it counts.
// Refused it is as Record refuses.
func (a *Acts) Hear(ctx context.Context, p commissioning.Person, run commissioning.RunID, pencil Pencil, now time.Time) (heard Heard, err error) {
	by := Author{Person: p, Device: pencil.Device, Form: true, JumpMS: pencil.JumpMS}
	if !isUUID(pencil.Entry.ID) {
		return heard, problem.On("id", "This entry has no id of its own. Load the page again and enter it anew.")
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		heard = Heard{}
		book, err := lockLogbook(ctx, tx, p, run)
		if err != nil {
			return err
		}
		record := pencil.record(p, run)
		hearing, err := tx.Hear(ctx, record)
		if err != nil {
			return err
		}
		stored := slices.ContainsFunc(book.Entries, func(e commissioning.Entry) bool { return e.ID == pencil.Entry.ID })
		switch {
		case hearing.Outcome == "aside":
			heard.Aside = hearing.Why
			return nil
		case hearing.Outcome == "gap" && !pencil.AfterGap:
			heard.Wanted = hearing.Wanted
			return nil
		}
		if heard.Aside = pencil.aside(hearing, book, stored); heard.Aside != "" {
			return tx.SetAside(ctx, record, pencil.Body, heard.Aside, moment(now))
		}
		if hearing.Outcome == "new" {
			if err := tx.Keep(ctx, record, moment(now)); err != nil {
				return err
			}
		}
		post, err := newPost(by.after(book, pencil.Entry, stored), []commissioning.Entry{pencil.Entry})
		if err != nil {
			return err
		}
		heard.Recorded, err = post.store(ctx, tx, book.Run, now, func(commissioning.Run) error { return nil })
		return err
	})
	return heard, err
}

func (p Pencil) record(by commissioning.Person, run commissioning.RunID) db.TabletRecord {
	digest := sha256.Sum256(p.Body)
	return db.TabletRecord{
		Run: run, Person: by.ID, Device: p.Device, N: p.N, Key: p.Entry.ID,
		Previous: p.Previous, Digest: digest[:], OffsetMS: p.OffsetMS, JumpMS: p.JumpMS, App: p.App,
	}
}

// aside says why a record can't become an entry, "" when it can.
func (p Pencil) aside(h db.Hearing, book db.Book, stored bool) string {
	switch {
	case h.Outcome == "gap":
		return fmt.Sprintf("Records %d to %d of this tablet never came.", h.Wanted, p.N-1)
	case h.Outcome == "broken":
		return "It does not follow the record before it on this tablet."
	case stored:
		return ""
	case p.Leave:
		return "Its writer could not send it as an entry, and left it with quality."
	case book.Run.State == commissioning.Abandoned:
		return fmt.Sprintf("Run %s was abandoned before it came.", book.Run.Number)
	}
	return p.doneBefore(book)
}

// doneBefore says who finished the same line meanwhile, unseen by this tablet.
func (p Pencil) doneBefore(book db.Book) string {
	if p.Entry.Kind != commissioning.KindStep || p.Entry.Outcome != commissioning.Done {
		return ""
	}
	struck := map[int]bool{}
	for _, e := range book.Entries {
		struck[e.Strikes] = true
	}
	for _, e := range book.Entries {
		if e.Seq > p.Seen && e.Kind == commissioning.KindStep && e.Step == p.Entry.Step && !struck[e.Seq] && e.Device != p.Device {
			zone, err := time.LoadLocation(book.Site.TimeZone)
			if err != nil {
				zone = time.UTC
			}
			return fmt.Sprintf("Already done by %s at %s.", book.Names[e.By], words.Moment(e.ObservedAt.In(zone), "15:04"))
		}
	}
	return ""
}

// after makes the author one whose pen has gone over since, where it has.
func (by Author) after(book db.Book, e commissioning.Entry, stored bool) Author {
	free := e.Kind == commissioning.KindFault || e.Kind == commissioning.KindNote
	if !stored && !free && book.Run.Pen != by.Person.ID && slices.Contains(book.Contributors, by.Person.ID) {
		by.AfterPen = book.Names[string(book.Run.Pen)]
	}
	return by
}
