package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const importMapping = `select mapping from import_mappings where unit = @unit`

// ImportMapping gives how the files of a unit were read last, "" when none was.
// Whoever asks has read a run of the unit.
func (d *DB) ImportMapping(ctx context.Context, unit string) (_ string, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "ImportMapping(%s)", unit)
	found, err := column[string](ctx, d.pool, importMapping, args{"unit": unit})
	if err != nil || len(found) == 0 {
		return "", err
	}
	return found[0], nil
}

const keepImportMapping = `
insert into import_mappings (unit, mapping, saved_by, saved_at) values (@unit, @mapping, @by, @at)
on conflict (unit) do update set mapping = excluded.mapping, saved_by = excluded.saved_by, saved_at = excluded.saved_at`

// KeepImportMapping keeps how a unit's files are read.
func (t *Tx) KeepImportMapping(ctx context.Context, unit, mapping string, by commissioning.PersonID, at time.Time) error {
	return t.exec(ctx, keepImportMapping, args{"unit": unit, "mapping": mapping, "by": by, "at": at})
}
