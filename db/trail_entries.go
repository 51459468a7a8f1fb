package db

import (
	"context"
	"encoding/json"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// TrailEntry is an entry of the trail with the one that it speaks of.
type TrailEntry struct {
	commissioning.Entry
	About     *commissioning.Entry // struck, cleared or ruled on; nil when it speaks of none
	Procedure commissioning.Procedure
}

const trailAbout = `
select e.run_id::text as run, e.seq, e.received_at, e.body from entries e
join unnest(@runs::text[]::uuid[], @seqs::int[]) as w (run, seq) on w.run = e.run_id and w.seq = e.seq`

type entryPlace struct {
	run commissioning.RunID
	seq int
}

type procedureKey struct {
	key      string
	revision int
}

// TrailEntries reads what the entries among the rows say, by the row's ID. What
// anybody typed about a print sample is missing until its run has ended.
func (d *DB) TrailEntries(ctx context.Context, rows []TrailRow) (_ map[string]TrailEntry, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "TrailEntries")
	said, revisions := map[string]TrailEntry{}, map[procedureKey]ProcedureRevision{}
	runs, seqs := []string{}, []int{}
	for _, row := range rows {
		if row.Act {
			continue
		}
		var t TrailEntry
		if err := json.Unmarshal(row.Body, &t.Entry); err != nil {
			return nil, err
		}
		t.Seq, t.ReceivedAt = int(row.Seq), &row.StoredAt
		key := procedureKey{row.Procedure, row.Revision}
		if _, known := revisions[key]; !known {
			if revisions[key], err = readProcedure(ctx, d.pool, key.key, key.revision); err != nil {
				return nil, err
			}
		}
		t.Procedure = revisions[key].Procedure
		said[row.ID] = t
		if about := t.speaksOf(); about != 0 {
			runs, seqs = append(runs, string(row.Run)), append(seqs, about)
		}
	}
	found, err := list[entryRow](ctx, d.pool, trailAbout, args{"runs": runs, "seqs": seqs})
	if err != nil {
		return nil, err
	}
	others := map[entryPlace]commissioning.Entry{}
	for _, f := range found {
		if others[entryPlace{f.Run, f.Seq}], err = f.entry(); err != nil {
			return nil, err
		}
	}
	for _, row := range rows {
		if t, is := said[row.ID]; is {
			said[row.ID] = t.with(row, others)
		}
	}
	return said, nil
}

func (t TrailEntry) speaksOf() int { return max(t.Strikes, t.Ref) }

// with adds the entry that this one speaks of, and takes out what is said of a
// print sample while somebody may still have to read it.
func (t TrailEntry) with(row TrailRow, others map[entryPlace]commissioning.Entry) TrailEntry {
	if other, is := others[entryPlace{row.Run, t.speaksOf()}]; is {
		t.About = &other
	}
	if row.RunState == commissioning.Released || row.RunState == commissioning.Abandoned {
		return t
	}
	book := Book{Procedure: ProcedureRevision{Procedure: t.Procedure}}
	if t.About != nil {
		book.Entries = append(book.Entries, *t.About)
	}
	book.Entries = append(book.Entries, t.Entry)
	book = book.Blinded()
	t.Entry = book.Entries[len(book.Entries)-1]
	if t.About != nil {
		t.About = &book.Entries[0]
		if t.About.Kind == commissioning.KindCorrection && len(book.sampleSteps()) > 0 {
			t.About.Reason, t.About.Note, t.Reason, t.Note = "", "", "", "" // of what the first in the chain was, nothing is known here
		}
	}
	return t
}
