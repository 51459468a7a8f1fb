package act

import (
	"context"
	"slices"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
)

// Import stores the readings of a file in the run, as many at a time as a post
// carries, and says of each what became of it. The remark that names the file goes
// before them, once for a file. Then it keeps how the file was read, for the next of
// the unit. After an error the same file can be imported again: what is stored
// already is not stored twice.
func (a *Acts) Import(ctx context.Context, by Author, run commissioning.Run, file commissioning.Entry, readings []commissioning.Entry,
	mapping string, now time.Time,
) ([]Outcome, error) {
	if err := commissioning.AddEntries.On(commissioning.Situation{Person: by.Person, Run: run}); err != nil {
		return nil, err
	}
	var all []Outcome
	for part := range slices.Chunk(slices.Insert(slices.Clone(readings), 0, file), maxPost) {
		outcomes, err := a.RecordEach(ctx, by, run.ID, part, now)
		if err != nil {
			return nil, err
		}
		all = append(all, outcomes...)
	}
	return all[1:], a.db.InTx(ctx, func(tx *db.Tx) error {
		return tx.KeepImportMapping(ctx, run.Unit, mapping, by.Person.ID, now)
	})
}
