package db

import (
	"context"

	"settlemark/internal/problem"
)

const schemaVersion = `select coalesce(max(version_id), 0) from schema_versions where is_applied`

// SchemaVersion gives the number of the newest migration that was applied.
func (d *DB) SchemaVersion(ctx context.Context) (_ int64, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "SchemaVersion")
	return value[int64](ctx, d.pool, schemaVersion, args{})
}

// Connections are those that this process holds to the database: in use, open, and at most.
func (d *DB) Connections() (used, open, most int) {
	for _, pool := range d.pool.lanes {
		s := pool.Stat()
		used, open, most = used+int(s.AcquiredConns()), open+int(s.TotalConns()), most+int(s.MaxConns())
	}
	return used, open, most
}
