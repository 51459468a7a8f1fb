package db

import (
	"time"

	"settlemark/internal/commissioning"
)

// ProcedureRevision is one stored revision with who wrote it and what quality
// said of it.
type ProcedureRevision struct {
	commissioning.Procedure
	YAML       string
	SHA256     string // hex, of the YAML
	Author     commissioning.PersonID
	AuthorName string   // who submitted it, "" when it came with the product
	Authors    []string // printed names of everybody who changed the draft
	AuthorIDs  []commissioning.PersonID
	Reason     string // for the change, "" when it came with the product
	Base       int    // the revision that it was drafted from, 0 for none
	AddedAt    time.Time
	ApprovedBy string // printed name, "" while not approved
	ApprovedAt *time.Time
	Rejected   Decision
	Retired    Decision
	Demo       bool
}

// Decision is what quality said against a revision; At is nil while it did not.
type Decision struct {
	By     string // printed name
	At     *time.Time
	Reason string
}

// Usable says whether a run may be opened with it.
func (r ProcedureRevision) Usable() bool { return r.ApprovedAt != nil && r.Retired.At == nil }

// ProcedureDraft is the working text of a procedure.
type ProcedureDraft struct {
	ID        int64
	Key       string
	Base      int // the revision that it began as, 0 for a new procedure
	Text      string
	Version   int
	StartedAt time.Time
	ChangedBy string // printed name
	ChangedAt time.Time
	Authors   []string
	AuthorIDs []commissioning.PersonID
}

// ReturnRecord is one return of a run to the engineer.
type ReturnRecord struct {
	Round  int // the round that it ended
	By     commissioning.PersonID
	Name   string
	At     time.Time
	Reason string
}

// Photo is what is known of a stored photo, without its bytes.
type Photo struct {
	Run            commissioning.RunID
	SHA256         string // hex, of the stored bytes
	OriginalSHA256 string // hex, of what was sent
	MediaType      string
	Width, Height  int
	Size           int
	By             commissioning.PersonID
	StoredAt       time.Time
}

// PhotoBytes is a photo with its bytes.
type PhotoBytes struct {
	Photo
	Bytes []byte
}

// SampleReading is what a supervisor read off the photo of the print sample.
type SampleReading struct {
	Round  int
	Person commissioning.PersonID
	Text   string
	ReadAt time.Time
}

// BoardRow is one unit with its live run, if there is one.
type BoardRow struct {
	Unit commissioning.Unit
	Run  *commissioning.Run
	Book *Book // of Run; always blinded
}

// CertificateFilter narrows the list of certificates; zero fields do not.
type CertificateFilter struct {
	Numbers                           []commissioning.CertificateNumber
	OfUnit                            string     // the whole tag
	Unit, Line, Lot, Engineer, Status string     // Status may also be commissioning.EndingSoon
	From, To                          *time.Time // of the release, both inclusive
	Limit, Offset                     int        // Limit 0 means 200
}

// ActRecord is one act of consequence.
type ActRecord struct {
	ID      int64
	At      time.Time
	By      commissioning.PersonID // "" when the program itself did it
	Name    string
	Act     string // "run opened", "certificate withdrawn", …
	Site    commissioning.SiteID
	Run     commissioning.RunID
	Unit    string
	Subject string // certificate number, person code, procedure and revision, …
	Detail  string // one line for people
}

// ActFilter narrows the acts; zero fields do not.
type ActFilter struct {
	Unit    string
	By      commissioning.PersonID
	Act     string
	Subject string
	Run     commissioning.RunID
	Limit   int // 0 means 100
}
