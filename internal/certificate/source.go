package certificate

import (
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/rules"
)

// Source is all that a certificate is made from, read under the lock of the
// countersign transaction.
type Source struct {
	Number     commissioning.CertificateNumber
	Run        commissioning.Run // as it will stand: Head with the dispositions
	Unit       commissioning.Unit
	Site       commissioning.Site
	Procedure  Approval
	Logbook    commissioning.Logbook // At is the instant of submission
	Opening    []byte                // canonical JSON, the root of the chain
	Posts      []int                 // last seq of each post, in order
	Exam       rules.Examination     // of that logbook at that instant
	Signatures []commissioning.Signature
	Returns    []Return
	Names      map[string]string // code → printed name, loggers too
	Photos     []Photo           // stored photos of the run
	ReleasedAt time.Time
	ValidUntil *time.Time
	Supersedes commissioning.CertificateNumber // "" when none
	VerifyURL  string                          // address of the verify page, "" when the site has none
	Signer     string                          // fingerprint of the certificate that will sign the file, "" for none
}

// Approval says which text of the procedure was followed and who approved it.
// The procedure itself stands in the logbook.
type Approval struct {
	YAML       string // the approved text
	SHA256     string // hex, of that text
	ApprovedBy string // printed name
	ApprovedAt *time.Time
}

// Return is one round that a supervisor sent back.
type Return struct {
	Round  int
	By     string // printed name
	At     time.Time
	Reason string
}

// Photo is a stored photo: the hash of its bytes and its size in pixels.
type Photo struct {
	SHA256 string
	Width  int
	Height int
}
