package commissioning

import "time"

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
	Number       CertificateNumber
	Run          RunID
	RunNumber    RunNumber
	Unit         string
	Site         SiteID
	SiteName     string
	TimeZone     string
	Line         string
	Engineer     string // printed name
	Supervisor   string // printed name
	ReleasedAt   time.Time
	ValidUntil   *time.Time
	SupersededBy CertificateNumber
	WithdrawnAt  *time.Time
	WithdrawnBy  string
	WithdrawnFor string // reason
	Lots         []string
	HasPDF       bool
	PDFHash      string // hex SHA-256 of the stored file
	Demo         bool
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

// Signature binds a person, a meaning and an instant to a head of the record.
type Signature struct {
	Run      RunID
	Round    int
	Kind     SignatureKind
	Person   PersonID
	Name     string // as printed when it was signed
	Role     Role
	Meaning  string
	Method   string // "password"
	SignedAt time.Time
	Head     []byte // chain head that the signer's page showed

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
