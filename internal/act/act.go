// Package act holds the acts of consequence: open, record, submit, return,
// countersign, issue, withdraw, approve, and the registers and people behind
// them. One function is one transaction.
//
// Every way into the record (pages, loggers, demo, command line) goes through
// here, so no path can skip a check. Nothing else may call db.InTx. The
// package must not know HTTP nor SQL.
//
// Every act may be sent again with the same key (entry id, run id, nonce):
// it then answers as it did the first time and stores nothing.
package act

import (
	"errors"
	"log/slog"

	"settlemark/db"
	"settlemark/internal/commissioning"
)

// Acts carries what every act needs.
type Acts struct {
	db  *db.DB
	log *slog.Logger
}

// New makes the acts over an open database.
func New(d *db.DB, log *slog.Logger) *Acts {
	return &Acts{db: d, log: log}
}

// ErrSessionOver is in the chain of a refusal after which the person must be
// signed out: five wrong proofs of identity in a row.
var ErrSessionOver = errors.New("too many wrong proofs of identity")

// Author is who records: a person, or a logger when Logger is set.
type Author struct {
	Person commissioning.Person
	Logger *commissioning.Logger
	Device string
}

// Opening says which run to open. ID is made by the client (UUIDv7), so that
// opening twice is opening once.
type Opening struct {
	ID        commissioning.RunID
	Unit      string // tag
	Procedure string // key
	Revision  int
	Bench     int64
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
	Head     []byte
	Password string
	Nonce    string
}

// NewPerson is somebody to be added.
type NewPerson struct {
	Name   string
	Login  string
	Grants []commissioning.Grant
}
