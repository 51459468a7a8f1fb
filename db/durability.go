package db

import (
	"context"
	"time"

	"settlemark/internal/problem"
	"settlemark/internal/words"
)

// Durability is what the database's settings make of an acknowledged write, as
// they hold for this program's own sessions.
type Durability struct {
	Server            int // as server_version_num
	Fsync             bool
	FullPageWrites    bool
	SynchronousCommit string
	Standbys          string // that commits wait for, "" for none
	Checksums         bool
	Archiving         bool
	ArchiveFails      bool // since the last time it did not
}

// Grade of durability: what it survives that a write was acknowledged.
type Grade string

// GradeA survives the loss of the primary, GradeB a crash and a power cut, GradeC
// neither for certain.
const (
	GradeA Grade = "A"
	GradeB Grade = "B"
	GradeC Grade = "C"
)

// Grade follows from the settings alone: a commit that waits for a standby is not
// acknowledged while there is none.
func (d Durability) Grade() Grade {
	flushed := d.Fsync && d.FullPageWrites && (d.SynchronousCommit == "on" || d.SynchronousCommit == "remote_apply")
	switch {
	case d.Fsync && d.FullPageWrites && d.SynchronousCommit == "local":
		return GradeB
	case !flushed:
		return GradeC
	case d.Standbys == "":
		return GradeB
	}
	return GradeA
}

// Promise is what the grade means for who records something.
func (g Grade) Promise() words.Text {
	switch g {
	case GradeA:
		return words.Say("Grade A: what was acknowledged survives a crash, a power cut and the loss of the primary database.")
	case GradeB:
		return words.Say("Grade B: what was acknowledged survives a crash and a power cut; after the loss of the database's disk, what the last backup or the archive holds.")
	}
	return words.Say("Grade C: what was acknowledged may be lost in a crash or a power cut.")
}

const durability = `
select current_setting('server_version_num')::int as server, current_setting('fsync')::bool as fsync,
  current_setting('full_page_writes')::bool as full_page_writes, current_setting('synchronous_commit') as synchronous_commit,
  current_setting('synchronous_standby_names') as standbys, current_setting('data_checksums')::bool as checksums,
  current_setting('archive_mode') <> 'off' as archiving,
  (select coalesce(last_failed_time > coalesce(last_archived_time, '-infinity'), false) from pg_stat_archiver) as archive_fails`

// Durability reads it from the server.
func (d *DB) Durability(ctx context.Context) (_ Durability, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Durability")
	return one[Durability](ctx, d.pool, durability, args{})
}

const databaseClock = `select clock_timestamp()`

// Clock is what the database's clock shows.
func (d *DB) Clock(ctx context.Context) (_ time.Time, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Clock")
	return value[time.Time](ctx, d.pool, databaseClock, args{})
}
