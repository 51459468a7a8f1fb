// Package commissioning holds the nouns of the job, their states, and what may
// follow what. It is pure: no clock, no database, no network.
package commissioning

import "fmt"

// RunID identifies a run (UUIDv7 as text).
type RunID string

// PersonID is a person's code, "P-0004". It is given once and never to another
// person; evidence carries the code, pages show the name.
type PersonID string

// SiteID identifies a site.
type SiteID int64

// CertificateNumber is printed on the certificate: "C-0042".
type CertificateNumber string

// RunNumber is what people call a run: "R-0042".
type RunNumber int64

func (n RunNumber) String() string { return fmt.Sprintf("R-%04d", int64(n)) }
