package templates

import (
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/urls"
	"settlemark/internal/words"
	"settlemark/templates/parts"
)

// certificateSheet is of the screens about certificates and what they stand on.
const certificateSheet = "css/certificates.css"

// CertificatesView is the list that passes the filter.
type CertificatesView struct {
	List  []commissioning.Certificate
	Form  parts.Form // the filter
	Now   time.Time
	Query string                        // of the address, for the download of all
	Renew map[commissioning.SiteID]bool // sites at which the reader may open a run
}

// CertificateView is one certificate as it stands today.
type CertificateView struct {
	commissioning.Certificate
	Now         time.Time
	Form        parts.Form
	Withdrawing bool
	Proving     parts.Proving // of the form that withdraws
	MayWithdraw bool
	MayRenew    bool
	History     []ActLine
	Signatures  []commissioning.Signature // the two that it stands on
	Changed     []string                  // what of its record is no longer as it was signed
}

// status of a certificate today.
func (v CertificateView) status() commissioning.CertificateStatus { return v.Status(v.Now) }

func (v CertificatesView) zipURL() string {
	if v.Query == "" {
		return urls.CertificateZIPPattern
	}
	return urls.CertificateZIPPattern + "?" + v.Query
}

var statusOptions = []parts.Option{
	{Value: string(commissioning.Valid), Label: words.Say("Valid")},
	{Value: commissioning.EndingSoon, Label: words.Say("Valid, ends within 30 days")},
	{Value: string(commissioning.Expired), Label: words.Say("Expired")},
	{Value: string(commissioning.Superseded), Label: words.Say("Superseded")},
	{Value: string(commissioning.Withdrawn), Label: words.Say("Withdrawn")},
}

// statusLook gives shape, word and class of a status: never colour alone.
func statusLook(s commissioning.CertificateStatus) (icon, word, class string) {
	switch s {
	case commissioning.Valid:
		return "seal", "Valid", "is-seal"
	case commissioning.Expired:
		return "late", "Expired", "is-warn"
	case commissioning.Superseded:
		return "void", "Superseded", "is-quiet"
	case commissioning.Withdrawn:
		return "stop", "Withdrawn", "is-bad"
	}
	return "open", string(s), "is-quiet"
}

// standingLine is when a certificate ceased to stand, by whom and why; of a
// valid one that ends soon, when that is.
func standingLine(c commissioning.Certificate, now time.Time) string {
	if _, soon := c.Expiring(now); soon {
		return expiresIn(c, now).String()
	}
	s := c.Standing(now)
	if s.At.IsZero() {
		return s.Reason
	}
	line := parts.DayMinute(s.At, c.TimeZone)
	if s.By != "" {
		line += ", " + s.By
	}
	return line + ": " + s.Reason
}

func expiresIn(c commissioning.Certificate, now time.Time) words.Text {
	days, _ := c.Expiring(now)
	return parts.ExpiresIn(days)
}
