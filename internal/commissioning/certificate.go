package commissioning

import (
	"time"

	"settlemark/internal/words"
)

// CertificateStatus is what a certificate is worth today.
type CertificateStatus string

const (
	Valid      CertificateStatus = "valid"
	Expired    CertificateStatus = "expired"
	Superseded CertificateStatus = "superseded"
	Withdrawn  CertificateStatus = "withdrawn"
)

// Certificate is one release as the registers show it.
type Certificate struct {
	Number     CertificateNumber
	Run        RunID
	RunNumber  RunNumber
	Unit       string
	Site       SiteID
	SiteName   string
	TimeZone   string
	Line       string
	Engineer   string // printed name
	Supervisor string // printed name
	ReleasedAt time.Time
	ValidUntil *time.Time

	SupersededBy   CertificateNumber
	SupersededAt   *time.Time
	SupersededName string // who countersigned the newer release
	WithdrawnAt    *time.Time
	WithdrawnBy    string
	WithdrawnFor   string // reason
	WithdrawnCause string // "quality", "recall", or the kind of an event at the unit

	Lots    []string
	HasPDF  bool
	PDFHash string // hex SHA-256 of the stored file
	Demo    bool
}

// Status on the day now. Withdrawn beats superseded beats expired.
func (c Certificate) Status(now time.Time) CertificateStatus {
	switch {
	case c.WithdrawnAt != nil:
		return Withdrawn
	case c.SupersededBy != "":
		return Superseded
	case c.ValidUntil != nil && now.After(*c.ValidUntil):
		return Expired
	}
	return Valid
}

// Standing is what a certificate is worth and, once it no longer stands, since
// when, by whom and why.
type Standing struct {
	Status CertificateStatus
	At     time.Time // zero while it stands
	By     string    // printed name; "" when only its time is over
	Reason words.Text
}

// Standing on the day now.
func (c Certificate) Standing(now time.Time) Standing {
	s := Standing{Status: c.Status(now)}
	switch s.Status {
	case Withdrawn:
		s.At, s.By, s.Reason = *c.WithdrawnAt, c.WithdrawnBy, words.Plain(c.WithdrawnFor)
	case Superseded:
		s.By, s.Reason = c.SupersededName, words.Say("a newer release of this unit, %s", string(c.SupersededBy))
		if c.SupersededAt != nil {
			s.At = *c.SupersededAt
		}
	case Expired:
		s.At, s.Reason = *c.ValidUntil, words.Say("its time is over")
	}
	return s
}

// RenewWithin is how long before its end a certificate asks to be renewed.
// Common practice, no source: time enough to plan a run of half a shift.
const RenewWithin = 30 * 24 * time.Hour

// EndingSoon is no status of its own: lists are narrowed by it to the valid
// certificates that end within RenewWithin.
const EndingSoon = "ending-soon"

// Expiring says whether a valid certificate ends soon, and in how many whole days.
func (c Certificate) Expiring(now time.Time) (days int, soon bool) {
	if c.ValidUntil == nil || c.Status(now) != Valid {
		return 0, false
	}
	left := c.ValidUntil.Sub(now)
	return int(left / (24 * time.Hour)), left <= RenewWithin
}

// Signature binds a person, a meaning and an instant to a head of the record.
type Signature struct {
	Run      RunID
	Round    int
	Kind     SignatureKind
	Person   PersonID
	Name     string // as printed when it was signed
	Role     Role
	Meaning  string
	Method   string // how the signer proved who they are: "passkey", "password and code", …
	SignedAt time.Time
	Head     []byte     // chain head that the signer's page showed
	Passkey  *Assertion // what the passkey signed, when it was one

	// of a countersignature only
	Reading  string // the countersigner's own reading of the print sample
	Agrees   bool   // with the engineer's, spaces and case aside
	Mismatch string // reason given when it does not agree
}

// SignatureKind is submit or countersign.
type SignatureKind string

const (
	Submission       SignatureKind = "submit"
	Countersignature SignatureKind = "countersign"
)

// The meanings, in full, as signed.
const (
	MeaningSubmit      = "I did this work and recorded it as it happened"
	MeaningCountersign = "I reviewed the evidence and release the unit"
)
