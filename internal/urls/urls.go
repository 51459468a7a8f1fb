// Package urls builds every address of the app with one function each; the
// patterns for the router stand beside them.
package urls

import (
	"net/url"
	"strconv"
	"strings"

	"settlemark/internal/commissioning"
)

// Patterns for the router.
const (
	HomePattern           = "/"
	HealthPattern         = "/healthz"
	ReadyPattern          = "/readyz"
	AssetsPattern         = "/assets/*"
	LogPolicyPattern      = "/log/policy.txt"
	LogCheckpointPattern  = "/log/checkpoint"
	LogStatusPattern      = "/log/status"
	LogEpochPattern       = "/log/{epoch}/checkpoint"
	LogTilePattern        = "/log/{epoch}/tile/*"
	SignInPattern         = "/sign-in"
	SignOutPattern        = "/sign-out"
	SetupPattern          = "/setup"  // first administrator, by one-time code
	InvitePattern         = "/invite" // a person sets a password, by one-time code
	LockPattern           = "/lock"   // nobody touched the screen
	UnlockPattern         = "/unlock"
	AccountPattern        = "/account"
	FactorsPattern        = "/account/second-factors"
	AppPattern            = "/account/second-factors/app"
	PasskeyPattern        = "/account/second-factors/passkey"
	RemoveFactorPattern   = "/account/second-factors/remove"
	RecoveryPattern       = "/account/recovery-codes"
	PasswordPattern       = "/account/password"
	TellPattern           = "/account/tell"
	TellMailPattern       = "/account/tell/mail"
	TellMailTryPattern    = "/account/tell/mail/try"
	TellHookTryPattern    = "/account/tell/webhook/try"
	EndSessionPattern     = "/account/sessions/end"
	ChallengePattern      = "/passkey-challenge" // for a passkey to answer, at sign-in and when one is made
	PasskeySignInPattern  = "/sign-in/passkey"
	ProviderPattern       = "/sign-in/provider"          // leads to the site's OpenID provider
	ProviderAnswerPattern = "/sign-in/provider/callback" // where that leads back to
	LinkPattern           = "/account/provider"          // the account there that signs a person in here
	LinkBeginPattern      = "/account/provider/begin"
	UnlinkPattern         = "/account/provider/unlink"
	RunsPattern           = "/runs" // my runs; POST opens one
	RunStartPattern       = "/runs/new"
	RunPattern            = "/runs/{run}"
	RunEventsPattern      = "/runs/{run}/events"
	EntriesPattern        = "/runs/{run}/entries"
	PhotosPattern         = "/runs/{run}/photos"
	PhotoPattern          = "/runs/{run}/photos/{sha256}.jpg"
	PhotoBytesPattern     = "/runs/{run}/photos/{sha256}" // POST hands in one that a tablet took without the server
	ReadingPattern        = "/runs/{run}/reading"         // the pad
	FaultPattern          = "/runs/{run}/fault"
	PenPattern            = "/runs/{run}/pen"
	SubmitPattern         = "/runs/{run}/submit"
	AbandonPattern        = "/runs/{run}/abandon"
	ReviewPattern         = "/runs/{run}/review"
	SamplePattern         = "/runs/{run}/review/sample" // the countersigner's own reading
	RulingPattern         = "/runs/{run}/review/rulings"
	ReturnPattern         = "/runs/{run}/return"
	CountersignPattern    = "/runs/{run}/countersign"
	LogbookPattern        = "/runs/{run}/logbook"
	LogbookJSONPattern    = "/runs/{run}/logbook.json"
	LogbookCSVPattern     = "/runs/{run}/logbook.csv"
	BoardPattern          = "/board"
	BoardEventsPattern    = "/board/events"
	CertificatesPattern   = "/certificates"
	CertificatePattern    = "/certificates/{number}"
	CertificatePDFPattern = "/certificates/{number}.pdf"
	CertificateZIPPattern = "/certificates.zip"
	WithdrawPattern       = "/certificates/{number}/withdraw"
	ProceduresPattern     = "/procedures"
	ProcedurePattern      = "/procedures/{key}/{revision}"
	ApprovePattern        = "/procedures/{key}/{revision}/approve"
	UnitsPattern          = "/units"
	UnitPattern           = "/units/{tag}"
	FluidsPattern         = "/fluids"
	ProposalsPattern      = "/proposals"
	SitesPattern          = "/sites"
	LinesPattern          = "/lines"
	BenchesPattern        = "/benches"
	InstrumentsPattern    = "/instruments"
	PeoplePattern         = "/people"
	PersonPattern         = "/people/{person}"
	VerifyPattern         = "/verify"
	TrustPattern          = "/trust" // how a device comes to trust the site's own authority
	TrustCRTPattern       = "/trust/settlemark-authority.crt"
	TrustPEMPattern       = "/trust/settlemark-authority.pem"
)

func run(id commissioning.RunID, rest string) string {
	return "/runs/" + url.PathEscape(string(id)) + rest
}

// Run is the page of a run.
func Run(id commissioning.RunID) string { return run(id, "") }

// BoardLine is the page of one line of a large board.
func BoardLine(site commissioning.SiteID, line string) string {
	return BoardPattern + "?site=" + strconv.FormatInt(int64(site), 10) + "&line=" + url.QueryEscape(line)
}

// TellOf is the page of being told with the choice of one run.
func TellOf(id commissioning.RunID) string {
	return TellPattern + "?run=" + url.QueryEscape(string(id))
}

// Import is the page on which a run takes readings out of a file.
func Import(id commissioning.RunID) string { return run(id, "/import") }

// ImportRead reads the file as a form says, and stores what it holds.
func ImportRead(id commissioning.RunID) string { return run(id, "/import/read") }

// RunStep is the page of a run with one section open.
func RunStep(id commissioning.RunID, section int) string {
	return run(id, "?section="+strconv.Itoa(section))
}

// RunEvents is the event stream of a run.
func RunEvents(id commissioning.RunID) string { return run(id, "/events") }

// Entries takes new entries of a run.
func Entries(id commissioning.RunID) string { return run(id, "/entries") }

// Photos takes a photo of a run.
func Photos(id commissioning.RunID) string { return run(id, "/photos") }

// Photo is one stored photo of a run.
func Photo(id commissioning.RunID, sha256 string) string {
	return run(id, "/photos/"+url.PathEscape(sha256)+".jpg")
}

// Reading is the reading pad for one quantity.
func Reading(id commissioning.RunID, quantity string) string {
	return run(id, "/reading?quantity="+url.QueryEscape(quantity))
}

// Fault is the page on which a fault is reported.
func Fault(id commissioning.RunID) string { return run(id, "/fault") }

// Pen is the page on which the pen is taken or handed over.
func Pen(id commissioning.RunID) string { return run(id, "/pen") }

// Submit is the page on which the engineer signs.
func Submit(id commissioning.RunID) string { return run(id, "/submit") }

// Abandon ends a run without a release.
func Abandon(id commissioning.RunID) string { return run(id, "/abandon") }

// Review is the supervisor's page of a run.
func Review(id commissioning.RunID) string { return run(id, "/review") }

// Sample takes the countersigner's own reading of the print sample.
func Sample(id commissioning.RunID) string { return run(id, "/review/sample") }

// Ruling takes a supervisor's disposition.
func Ruling(id commissioning.RunID) string { return run(id, "/review/rulings") }

// Return sends a run back.
func Return(id commissioning.RunID) string { return run(id, "/return") }

// Countersign releases a run.
func Countersign(id commissioning.RunID) string { return run(id, "/countersign") }

// Logbook shows every entry of a run.
func Logbook(id commissioning.RunID) string { return run(id, "/logbook") }

// LogbookJSON is the logbook as settlemark.logbook/1.
func LogbookJSON(id commissioning.RunID) string { return run(id, "/logbook.json") }

// LogbookCSV is the logbook as a table.
func LogbookCSV(id commissioning.RunID) string { return run(id, "/logbook.csv") }

// Certificate is the page of a certificate.
func Certificate(n commissioning.CertificateNumber) string {
	return "/certificates/" + url.PathEscape(string(n))
}

// CertificatePDF is the certificate itself.
func CertificatePDF(n commissioning.CertificateNumber) string { return Certificate(n) + ".pdf" }

// Withdraw withdraws a certificate.
func Withdraw(n commissioning.CertificateNumber) string { return Certificate(n) + "/withdraw" }

// Unit is the page of a unit.
func Unit(tag string) string { return "/units/" + url.PathEscape(tag) }

// Procedure is the page of one revision.
func Procedure(key string, revision int) string {
	return "/procedures/" + url.PathEscape(key) + "/" + strconv.Itoa(revision)
}

// Approve approves one revision.
func Approve(key string, revision int) string { return Procedure(key, revision) + "/approve" }

// Person is the page of a person.
func Person(id commissioning.PersonID) string { return "/people/" + url.PathEscape(string(id)) }

// LightPattern switches glare on and off for this browser.
const LightPattern = "/light"

// ReadingSettingsPattern takes how a person reads pages.
const ReadingSettingsPattern = "/account/reading"

// SignOutEverywherePattern ends every session of the person who asks.
const SignOutEverywherePattern = "/account/sign-out-everywhere"

// SignInThen is the sign-in page that leads back to the given page.
func SignInThen(then *url.URL) string {
	if then.Path == HomePattern {
		return SignInPattern
	}
	return SignInPattern + "?then=" + url.QueryEscape(then.RequestURI())
}

// UnlockThen is the page that unlocks the screen and leads back.
func UnlockThen(then *url.URL) string { return With(UnlockPattern, "then", then.RequestURI()) }

// RemoveFactor removes a second factor: "app", or a passkey by its id.
func RemoveFactor(which string) string { return With(RemoveFactorPattern, "which", which) }

// With adds one query field to an address, unless it is empty.
func With(address, name, value string) string {
	if value == "" {
		return address
	}
	return address + "?" + name + "=" + url.QueryEscape(value)
}

// FactorsThen is the page of second factors that leads back to a page.
func FactorsThen(then string) string {
	if then == HomePattern {
		return FactorsPattern
	}
	return With(FactorsPattern, "then", then)
}

// Local gives the address when it is a page of this app, else the start page:
// a form may not send a person elsewhere.
func Local(address string) string {
	u, err := url.Parse(address)
	if err != nil || u.Host != "" || u.Scheme != "" || !strings.HasPrefix(u.Path, "/") ||
		strings.HasPrefix(u.Path, "//") || strings.ContainsAny(address, "\\\r\n\t") {
		return HomePattern
	}
	return u.RequestURI()
}
