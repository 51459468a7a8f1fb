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
func statusLook(s commissioning.CertificateStatus) (icon string, word words.Text, class string) {
	switch s {
	case commissioning.Valid:
		return "seal", words.Say("Valid"), "is-seal"
	case commissioning.Expired:
		return "late", words.Say("Expired"), "is-warn"
	case commissioning.Superseded:
		return "void", words.Say("Superseded"), "is-quiet"
	case commissioning.Withdrawn:
		return "stop", words.Say("Withdrawn"), "is-bad"
	}
	return "open", words.Plain(string(s)), "is-quiet"
}

func statusWord(s commissioning.CertificateStatus) words.Text {
	_, word, _ := statusLook(s)
	return word
}

// standingLine is when a certificate ceased to stand, by whom and why; of a
// valid one that ends soon, when that is.
func standingLine(c commissioning.Certificate, now time.Time) words.Text {
	if days, soon := c.Expiring(now); soon {
		return parts.ExpiresIn(days)
	}
	s := c.Standing(now)
	if s.At.IsZero() {
		return s.Reason
	}
	when := words.Plain(parts.DayMinute(s.At, c.TimeZone))
	return words.Join(": ", words.Join(", ", when, words.Plain(s.By)), s.Reason)
}

// itExpires says as a sentence how soon a certificate ends.
func itExpires(days int) words.Text {
	if days == 0 {
		return words.Say("It expires within a day.")
	}
	return words.Many(days, "It expires in %d day.", "It expires in %d days.")
}
