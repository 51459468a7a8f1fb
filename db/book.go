package db

import (
	"slices"
	"time"

	"settlemark/internal/commissioning"
)

// Book is a run with everything that was recorded about it. Unit, Site and
// Instruments are as they were when the run was opened.
type Book struct {
	Run           commissioning.Run
	Unit          commissioning.Unit
	Site          commissioning.Site
	Instruments   []commissioning.Instrument
	Makeup        commissioning.Fluid // as the register has it now: for estimates only
	Procedure     ProcedureRevision
	Opening       []byte // canonical JSON, the root of the chain
	Entries       []commissioning.Entry
	Posts         []int // last seq of each post, in order
	Contributors  []commissioning.PersonID
	Signatures    []commissioning.Signature // of every round, by instant
	Returns       []ReturnRecord
	Photos        []Photo
	SampleReading *SampleReading    // of the reader, this round
	Changed       []string          // what is no longer as it was stored or signed; not read for streams
	Names         map[string]string // person or logger code → printed name
}

// Logbook is the run as the rules read it.
func (b Book) Logbook(at time.Time) commissioning.Logbook {
	return commissioning.Logbook{
		Format: "settlemark.logbook/1",
		Run: commissioning.LogbookRun{
			ID: string(b.Run.ID),
			Unit: commissioning.LogbookUnit{
				Tag: b.Unit.Tag, Serial: b.Unit.Serial, Ink: b.Unit.Ink, Makeup: b.Unit.Makeup,
			},
			Site:        commissioning.LogbookSite{Name: b.Site.Name, TimeZone: b.Site.TimeZone},
			OpenedAt:    b.Run.OpenedAt,
			Instruments: b.Instruments,
		},
		Procedure: b.Procedure.Procedure,
		Entries:   b.Entries,
		At:        at,
	}
}

// JudgedAt is the instant at which the run is judged: its submission once it is
// signed, else the instant asked for.
func (b Book) JudgedAt(now time.Time) time.Time {
	if s := b.Submission(); s != nil && b.Run.State != commissioning.Open {
		return s.SignedAt
	}
	return now
}

// Submission is the engineer's signature of this round, nil while there is none.
func (b Book) Submission() *commissioning.Signature {
	return b.signature(b.Run.Round, commissioning.Submission)
}

// Countersigned is the countersignature of this round, nil while there is none.
func (b Book) Countersigned() *commissioning.Signature {
	return b.signature(b.Run.Round, commissioning.Countersignature)
}

func (b Book) signature(round int, kind commissioning.SignatureKind) *commissioning.Signature {
	for i, s := range b.Signatures {
		if s.Round == round && s.Kind == kind {
			return &b.Signatures[i]
		}
	}
	return nil
}

// BlindFor says whether the person may still have to read the print sample of
// this round with eyes of their own: a supervisor of the site who recorded
// nothing in the run and has typed no reading.
func (b Book) BlindFor(p commissioning.Person) bool {
	over := b.Run.State == commissioning.Released || b.Run.State == commissioning.Abandoned
	read := b.SampleReading != nil && b.SampleReading.Person == p.ID && b.SampleReading.Round == b.Run.Round
	return p.Has(commissioning.Supervisor, b.Run.Site) && !over && !read &&
		!slices.Contains(b.Contributors, p.ID)
}

// Blinded is the book without what anybody typed about the print sample: the
// text and note of each answer, struck or not, of each replacement, and the
// reason given for striking one. The assessment does not depend on them.
func (b Book) Blinded() Book {
	sample := b.sampleSteps()
	if len(sample) == 0 {
		return b
	}
	answers := map[int]bool{}
	entries := slices.Clone(b.Entries)
	for i, e := range entries {
		if about(e, sample) {
			answers[e.Seq] = true
			e.Text, e.Note = "", ""
		}
		if e.Replacement != nil && (about(*e.Replacement, sample) || answers[e.Strikes]) {
			answers[e.Seq] = true
			r := *e.Replacement
			r.Text, r.Note = "", ""
			e.Replacement = &r
		}
		if e.Kind == commissioning.KindCorrection && (answers[e.Strikes] || answers[e.Seq]) {
			e.Reason, e.Note = "", ""
		}
		entries[i] = e
	}
	b.Entries = entries
	return b
}

func (b Book) sampleSteps() map[string]bool {
	steps := map[string]bool{}
	for _, section := range b.Procedure.Sections {
		for _, step := range section.Steps {
			if step.Ask == commissioning.AskSample {
				steps[step.ID] = true
			}
		}
	}
	return steps
}

func about(e commissioning.Entry, steps map[string]bool) bool {
	return e.Kind == commissioning.KindStep && steps[e.Step]
}
