package db

import (
	"context"

	"settlemark/internal/commissioning"
)

// Posting is one post of entries by one author, ready to be stored.
type Posting struct {
	Run        commissioning.RunID
	Person     commissioning.PersonID // the author, or
	Logger     string                 // this one
	SentHashes [][]byte               // SHA-256 of the canonical JSON of each entry as it was sent
	Bodies     [][]byte               // canonical JSON of each entry as it is stored
}

// Stored says where an entry stands in its run.
type Stored struct {
	StoredSeq int
	Again     bool // it was stored before this post
}

const appendPost = `
select stored_seq, again from append_post(@run, @person, @logger, @sent_hashes, @bodies)`

// Append stores a post through the database's append function, all or nothing.
// Entries that are stored already are answered as before; the same id with
// other content is refused (Invalid) and nothing is stored.
func (t *Tx) Append(ctx context.Context, p Posting) ([]Stored, error) {
	return list[Stored](ctx, t.tx, appendPost, args{
		"run": p.Run, "person": nilIfEmpty(p.Person), "logger": nilIfEmpty(p.Logger),
		"sent_hashes": p.SentHashes, "bodies": p.Bodies,
	})
}

const knownEntries = `
select id::text from entries where run_id = @run and id = any(@ids::text[]::uuid[])`

// Known gives those of the ids that are stored in the run.
func (t *Tx) Known(ctx context.Context, run commissioning.RunID, ids []string) ([]string, error) {
	return column[string](ctx, t.tx, knownEntries, args{"run": run, "ids": ids})
}
