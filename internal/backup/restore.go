package backup

import (
	"context"
	"errors"
	"io"
	"log/slog"

	"settlemark/db"
	"settlemark/internal/fsck"
	"settlemark/internal/privatepg"
	"settlemark/internal/problem"
)

// Target is the empty database that a backup is restored into.
type Target struct {
	Address string // as the login that owns it
	Serving string // name of the login that serves; its rights are set
}

// Restored is what came of it.
type Restored struct {
	Manifest Manifest
	Faults   []string // one line each; none when everything is there and sound
	Record   fsck.Report
}

// Restore reads the backup, which Check found whole, into an empty database, brings it to this version's
// schema, and checks the whole record: as many rows of every table as the
// manifest says, every chain, and the log, which must contain the manifest's
// checkpoint and those of outside. What was restored stays also when there are
// faults: it may be all that there is.
func (f File) Restore(ctx context.Context, m Manifest, t Target, outside fsck.Outside, log *slog.Logger) (r Restored, err error) {
	r.Manifest = m
	d, err := db.Open(ctx, t.Address, log)
	if err != nil {
		return r, err
	}
	defer d.Close()
	empty, server, err := d.Empty(ctx)
	if err != nil {
		return r, err
	}
	if !empty {
		return r, problem.New(problem.Conflict, "The database is not empty, and nothing in it was changed. "+
			"Restore into a new data folder (SETTLEMARK_DATA) or a new, empty database.")
	}
	if err := f.load(ctx, t.Address, server); err != nil {
		return r, err
	}
	found, err := d.RowCounts(ctx)
	if err != nil {
		return r, err
	}
	r.Faults = r.Manifest.differences(found)
	if err := db.Migrate(ctx, t.Address, t.Serving); err != nil {
		return r, err
	}
	if r.Manifest.Checkpoint != "" {
		outside.Checkpoints = append(outside.Checkpoints, []byte(r.Manifest.Checkpoint))
	}
	r.Record, err = fsck.Check(ctx, d, outside)
	r.Faults = append(r.Faults, r.Record.Faults...)
	return r, err
}

// load pipes the dump into pg_restore.
func (f File) load(ctx context.Context, address string, server int) error {
	tools, err := privatepg.FindTools(server)
	if err != nil {
		return err
	}
	out, in := io.Pipe()
	read := make(chan error, 1)
	go func() {
		err := f.dump(in)
		_ = in.CloseWithError(err) // it never fails
		read <- err
	}()
	err = tools.Restore(ctx, address, out)
	_ = out.CloseWithError(io.ErrClosedPipe) // pg_restore may leave the end unread
	if fromFile := <-read; err == nil && unlessClosed(fromFile) != nil {
		return fromFile
	}
	return err
}

// unlessClosed forgives that nobody wanted the rest.
func unlessClosed(err error) error {
	if errors.Is(err, io.ErrClosedPipe) {
		return nil
	}
	return err
}
