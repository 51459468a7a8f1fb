package commissioning

import (
	"fmt"
	"slices"
	"time"

	"settlemark/internal/problem"
)

// Role is what a person may do at a site.
type Role string

const (
	Engineer      Role = "engineer"
	Supervisor    Role = "supervisor"
	Quality       Role = "quality"
	Administrator Role = "administrator"
)

// Roles in the order in which they are shown.
var Roles = []Role{Engineer, Supervisor, Quality, Administrator}

// Person is somebody who signs in. Site 0 in a grant means every site.
type Person struct {
	ID         PersonID
	Name       string
	Login      string
	DisabledAt *time.Time
	Language   string // code of the language they read, "" for that of their site
	Units      string // set of local units beside those of records, "" for that of their site
	Grants     []Grant
}

// Grant gives one role at one site, or at all sites when Site is 0.
type Grant struct {
	Role Role
	Site SiteID
}

// Code is the role as forms send it and signatures carry it: "engineer:2" at one
// site, "engineer:0" at every site.
func (g Grant) Code() string { return fmt.Sprintf("%s:%d", g.Role, g.Site) }

// Has says whether the person holds the role for the site.
func (p Person) Has(role Role, site SiteID) bool {
	return slices.ContainsFunc(p.Grants, func(g Grant) bool {
		return g.Role == role && (g.Site == 0 || g.Site == site)
	})
}

// Holds says whether the person holds the role anywhere.
func (p Person) Holds(role Role) bool {
	return slices.ContainsFunc(p.Grants, func(g Grant) bool { return g.Role == role })
}

// Reads says whether the person may read runs and certificates of the site.
// Administrators read no evidence.
func (p Person) Reads(site SiteID) bool {
	return p.Has(Engineer, site) || p.Has(Supervisor, site) || p.Holds(Quality)
}

// Logger is a gateway that reports the values of its units.
type Logger struct {
	ID    string // "L-0001"
	Name  string
	Site  SiteID
	Units []string // tags

	Quantities []string // that it may report; none named is all
}

// Accepts says whether the gateway may add the entry to a run of one of its
// units: what the unit itself reports, and nothing that a person answers for.
func (l Logger) Accepts(e Entry) error {
	switch e.Kind {
	case KindReading:
		if len(l.Quantities) > 0 && !slices.Contains(l.Quantities, e.Quantity) {
			return problem.New(problem.Forbidden, "Gateway %s does not report %s. Ask an administrator to add it to what the gateway reports.", l.ID, e.Quantity)
		}
	case KindStart, KindStop, KindFault, KindFaultCleared:
	default:
		return problem.New(problem.Forbidden, "A gateway adds readings, faults, starts and stops. An engineer adds the rest.")
	}
	return nil
}

// TokenScope is what a gateway's token lets its holder do.
type TokenScope string

const (
	ReportScope TokenScope = "report" // add readings, faults, starts and stops
	ReadScope   TokenScope = "read"   // read runs and certificates of its units
)

// LoggerToken is a token of a gateway, without the token itself.
type LoggerToken struct {
	ID        string // stands in the token
	Logger    string
	Scope     TokenScope
	MadeAt    time.Time
	ExpiresAt time.Time
	EndedAt   *time.Time
	UsedAt    *time.Time
	OffsetMS  *int64 // the server's clock less the gateway's
}

// StandsAt says whether the token is good at an instant.
func (t LoggerToken) StandsAt(at time.Time) bool { return t.EndedAt == nil && at.Before(t.ExpiresAt) }
