// Package doctor looks at an installation and says in plain sentences what is
// wrong with it and what to do next. It changes nothing, and speaks to who runs
// the program, in English.
package doctor

import (
	"context"
	"errors"
	"fmt"
	"time"

	"settlemark/db"
	"settlemark/internal/problem"
)

// Finding is one thing that was looked at.
type Finding struct {
	About string
	Says  string
	Do    string // what to do next; "" when all is well
}

func well(about, format string, args ...any) Finding {
	return Finding{About: about, Says: fmt.Sprintf(format, args...)}
}

func wrong(about, do, format string, args ...any) Finding {
	return Finding{About: about, Says: fmt.Sprintf(format, args...), Do: do}
}

// oldest server that the statements are written for.
const oldest = 15

// apart is how far the clocks of program and database may be.
const apart = 2 * time.Second

// Database looks at the server, its settings, the tables and the rights of the login.
func Database(ctx context.Context, d *db.DB, now func() time.Time) []Finding {
	if err := d.Ping(ctx); err != nil {
		return []Finding{wrong("database", "See that the server of DATABASE_URL runs, can be reached from this machine and lets the login in.", "It does not answer: %v", err)}
	}
	all := settings(ctx, d)
	all = append(all, tables(ctx, d)...)
	before := now()
	shown, err := d.Clock(ctx)
	if err != nil {
		return append(all, unread("clock", err))
	}
	if off := shown.Sub(before).Abs(); off > apart {
		all = append(all, wrong("clock", "Let both machines follow the same time server (NTP).", "The clocks of this machine and of the database are %s apart.", off.Round(time.Second)))
	} else {
		all = append(all, well("clock", "this machine and the database agree"))
	}
	return all
}

func unread(about string, err error) Finding {
	return wrong(about, "Ask again; if it stays so, see the log of the database.", "It can't be read: %v", err)
}

func settings(ctx context.Context, d *db.DB) []Finding {
	s, err := d.Durability(ctx)
	if err != nil {
		return []Finding{unread("database", err)}
	}
	var all []Finding
	if s.Server/10000 < oldest {
		all = append(all, wrong("database", fmt.Sprintf("Move to a Postgres of version %d or newer.", oldest), "It is Postgres %d.", s.Server/10000))
	} else {
		all = append(all, well("database", "Postgres %d answers", s.Server/10000))
	}
	grade := s.Grade()
	if grade == db.GradeC {
		all = append(all, wrong("durability", "Set fsync, full_page_writes and synchronous_commit to on in the database's configuration.",
			"%s Now fsync is %t, full_page_writes %t, synchronous_commit %s.", grade.Promise(), s.Fsync, s.FullPageWrites, s.SynchronousCommit))
	} else {
		all = append(all, well("durability", "%s", grade.Promise()))
	}
	if !s.Checksums {
		all = append(all, wrong("checksums", "Stop the database and run pg_checksums --enable.", "The database keeps no checksums, so a disk that changes bytes goes unnoticed there."))
	}
	if s.ArchiveFails {
		all = append(all, wrong("archive", "See what archive_command says in the log of the database; its disk fills up meanwhile.", "Archiving fails since its last success."))
	}
	return all
}

// Replica looks at the standby that pages are read from.
func Replica(ctx context.Context, d *db.DB, url string, now func() time.Time) Finding {
	if err := d.CheckReplica(ctx, url, now); err != nil {
		return wrong("replica", "See that DATABASE_REPLICA_URL names a standby that runs, follows the primary and lets this login in; until then everything is read from the primary.",
			"It is not read from: %v.", err)
	}
	return well("replica", "it follows the primary; searches, the trail and exports are read from it")
}

func tables(ctx context.Context, d *db.DB) (all []Finding) {
	at, err := d.SchemaVersion(ctx)
	switch newest := db.NewestMigration(); {
	case err != nil:
		all = append(all, wrong("tables", "Start Settlemark once with DATABASE_OWNER_URL set to the login that owns the database.", "There are none of Settlemark that this login can read: %v", err))
		return all
	case at < newest:
		all = append(all, wrong("tables", "Start this program once with DATABASE_OWNER_URL set to the login that owns the database.", "They are at migration %d, this program needs %d.", at, newest))
	case at > newest:
		all = append(all, wrong("tables", "Use the newer program here, too.", "They are at migration %d already, this program knows those up to %d.", at, newest))
	default:
		all = append(all, well("tables", "at migration %d", at))
	}
	var refusal *problem.Error
	switch err := d.CheckRights(ctx); {
	case errors.As(err, &refusal) && !refusal.Sentence.Empty():
		all = append(all, wrong("rights", "Give the program a login of its own; db/logins.sql shows how.", "%s", refusal.Sentence))
	case err != nil:
		all = append(all, unread("rights", err))
	default:
		all = append(all, well("rights", "the login that serves can't change evidence"))
	}
	return all
}
