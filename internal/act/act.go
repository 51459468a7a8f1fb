// Package act holds the acts of consequence: open, record, submit, return,
// countersign, issue, withdraw, approve, and the registers and people behind
// them. One function is one transaction.
//
// Every way into the record (pages, loggers, demo, command line) goes through
// here, so no path can skip a check. Nothing else may call db.InTx. The
// package must not know HTTP nor SQL.
//
// Every act may be sent again with the same key (entry id, run id, nonce): it
// then answers as it did the first time and stores nothing. That is also how a
// commit with an unknown outcome is settled, so each transaction begins by
// looking for its own earlier work.
package act

import (
	"errors"
	"log/slog"
	"strings"
	"time"

	"github.com/google/uuid"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/certificate"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// Acts carries what every act needs.
type Acts struct {
	// VerifyURL is the address of the verify page that certificates name, "" for none.
	VerifyURL string
	// Signers sign the files of certificates; without one they stay unsigned.
	Signers certificate.Signers
	// Webhooks are told of events.
	Webhooks []Webhook
	// Mail says that there is a mail server; without one nobody is told by e-mail.
	Mail bool
	// Log says how the log is kept; the zero value seals nothing.
	Log Log

	db      *db.DB
	log     *slog.Logger
	secrets *auth.Secrets
	hasher  *auth.Hasher
	photos  chan struct{} // one photo at a time is decoded

	contradicted contradictions

	onSigned func(checkpoint []byte) // sees every checkpoint that was ever signed; for tests
}

// New makes the acts over an open database, with the secrets of its key file.
func New(d *db.DB, log *slog.Logger, secrets *auth.Secrets) *Acts {
	return &Acts{
		db: d, log: log, secrets: secrets, hasher: auth.NewHasher(secrets),
		photos: make(chan struct{}, 1), contradicted: contradictions{says: map[string]string{}}, onSigned: func([]byte) {},
	}
}

// ErrSessionOver is in the chain of a refusal after which the person must be
// signed out: too many wrong proofs of identity in a row.
var ErrSessionOver = errors.New("too many wrong proofs of identity")

// Author is who records: a person, or a logger when Logger is set.
type Author struct {
	Person commissioning.Person
	Logger *commissioning.Logger
	Device string
	Form   bool // a form: the server dates what it sends, or corrects the tablet's date

	Offset   *time.Duration // the server's clock less the gateway's; nil when it did not say its own
	JumpMS   *int64         // by how much the sender's clock was turned before it wrote this; nil when it was not
	AfterPen string         // who holds the pen now, of what was written before it went over; else ""
}

// Opening says which run to open. ID is made by the client (UUIDv7), so that
// opening twice is opening once.
type Opening struct {
	ID          commissioning.RunID
	Unit        string // tag
	Procedure   string // key
	Revision    int
	Bench       int64
	Instruments []int64 // of the unit's site, none twice
}

// Recorded is the answer to a post of entries.
type Recorded struct {
	Run   commissioning.Run
	Seqs  []int // one per entry, in the order sent
	Again bool  // every entry was stored before
}

// Signing is what a signer sends: the head that the page showed, the proof of
// identity, and the form's nonce, by which a second click finds the first.
type Signing struct {
	Head  []byte
	Proof Proof
	Nonce string
}

// NewPerson is somebody to be added.
type NewPerson struct {
	Name   string
	Login  string
	Grants []commissioning.Grant
}

// moment is an instant as the database keeps it.
func moment(now time.Time) time.Time { return now.UTC().Truncate(time.Microsecond) }

// isUUID accepts the canonical form only, so that one id has one spelling.
func isUUID(id string) bool {
	u, err := uuid.Parse(id)
	return err == nil && u.String() == id
}

// required trims a text that a person must give.
func required(field, text, sentence string) (string, error) {
	text = strings.TrimSpace(text)
	switch {
	case text == "":
		return "", problem.On(field, sentence)
	case len(text) > 2000:
		return "", problem.On(field, "That is longer than 2,000 characters. Shorten it.")
	}
	return text, nil
}

// noSuchRun is said of runs of other sites too.
func noSuchRun() error { return problem.New(problem.NotFound, "There is no such run.") }
