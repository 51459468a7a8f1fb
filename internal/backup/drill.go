package backup

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"settlemark/db"
	"settlemark/internal/certificate"
	"settlemark/internal/fsck"
	"settlemark/internal/ledger"
	"settlemark/internal/privatepg"
)

// Drill restores a backup beside the living record, on a server of its own, and
// says whether it holds everything up to a checkpoint that was kept elsewhere.
type Drill struct {
	File       *File             // a backup file, or else
	Base       privatepg.Copy    // a base backup with its archive
	Checkpoint []byte            // signed; the newest that left the machine
	Policy     string            // whose logs to believe; "" takes the keys that the record names
	Trust      certificate.Trust // how certificates are verified; the drill fills in the policy
	Now        func() time.Time  // when it was and how long it took; nothing is judged by it
	Log        *slog.Logger      // of the scratch server
}

// Run does the drill. Whatever is wrong is a fault in the report, also that the
// backup can't be restored at all. Server and folder of the drill are gone when
// it returns.
func (d Drill) Run(ctx context.Context) Report {
	r := &Report{Begun: d.Now()}
	if err := d.run(ctx, r); err != nil {
		r.fault("%v", err)
	}
	r.Took = d.Now().Sub(r.Begun)
	return *r
}

func (d Drill) run(ctx context.Context, r *Report) error {
	if d.File == nil {
		return d.base(ctx, r)
	}
	r.Source = d.File.Path
	m, err := d.File.Check()
	if err != nil {
		return err
	}
	r.line("backup", "of %s, Postgres %d, schema %d, every byte as it was written", instant(m.At), m.Server, m.Schema)
	server, err := privatepg.StartThrowaway(ctx, d.Log)
	if err != nil {
		return err
	}
	defer server.Close()
	restored, err := d.File.Restore(ctx, m, Target{Address: server.OwnerURL(), Serving: privatepg.AppLogin}, d.outside(), d.Log)
	if err != nil {
		return err
	}
	r.record(restored.Record)
	r.Faults = append(r.Faults, restored.Faults...)
	r.line("rows", "%d of %d tables, compared with the manifest", m.Total(), len(m.Rows))
	return d.inside(ctx, server.OwnerURL(), r)
}

// base rolls a base backup forward and looks at what came of it.
func (d Drill) base(ctx context.Context, r *Report) error {
	r.Source = d.Base.Base + " with " + d.Base.WAL
	server, err := privatepg.StartCopy(ctx, d.Base, d.Log)
	if err != nil {
		return err
	}
	defer server.Close()
	r.line("backup", "base backup as its manifest says, log read to the end of the archive and applied")
	switch err := server.Amcheck(ctx); {
	case errors.Is(err, privatepg.ErrNoTool):
		r.line("pages", "not checked: pg_amcheck is not installed")
	case err != nil:
		r.fault("tables and indexes: %v", err)
	default:
		r.line("pages", "tables and indexes checked by pg_amcheck")
	}
	if err := db.Migrate(ctx, server.AdminURL(), privatepg.AppLogin); err != nil {
		return err
	}
	open, err := db.Open(ctx, server.AdminURL(), d.Log)
	if err != nil {
		return err
	}
	defer open.Close()
	rows, err := open.RowCounts(ctx)
	if err != nil {
		return err
	}
	m := Manifest{Rows: rows}
	r.line("rows", "%d of %d tables", m.Total(), len(rows))
	found, err := fsck.Check(ctx, open, d.outside())
	if err != nil {
		return err
	}
	r.record(found)
	r.Faults = append(r.Faults, found.Faults...)
	return d.inside(ctx, server.AdminURL(), r)
}

func (d Drill) outside() fsck.Outside {
	return fsck.Outside{Policy: d.Policy, Checkpoints: [][]byte{d.Checkpoint}}
}

// inside compares the restored log with the checkpoint from outside and
// verifies every certificate as a stranger would.
func (d Drill) inside(ctx context.Context, address string, r *Report) error {
	open, err := db.Open(ctx, address, d.Log)
	if err != nil {
		return err
	}
	defer open.Close()
	policy, err := d.policy(ctx, open)
	if err != nil {
		return err
	}
	if err := compare(ctx, open, d.Checkpoint, policy, r); err != nil {
		return err
	}
	d.Trust.Policy = policy
	return verifyAll(ctx, open, d.Trust, r)
}

func (d Drill) policy(ctx context.Context, open *db.DB) (ledger.Policy, error) {
	text := d.Policy
	if text == "" {
		keys, err := open.LogKeys(ctx)
		if err != nil {
			return ledger.Policy{}, err
		}
		names := make([]string, len(keys))
		for i, k := range keys {
			names[i] = k.VKey
		}
		text = ledger.PolicyOf(names...)
	}
	return ledger.ReadPolicy([]byte(text))
}

// compare says how far the backup reaches. Whether the checkpoint is one of the
// log's past, and whether it can be read at all, fsck has said.
func compare(ctx context.Context, open *db.DB, signed []byte, policy ledger.Policy, r *Report) error {
	c, err := ledger.OpenSigned(signed, policy)
	if err != nil {
		return nil //nolint:nilerr // a fault already
	}
	state, err := open.LogState(ctx)
	if err != nil {
		return err
	}
	switch newest, err := open.LogCheckpoint(ctx, state.Epoch); {
	case err != nil:
		return err
	case state.Origin != c.Origin:
		r.line("log", "complete to entry %d of %s; the checkpoint from outside is of %s", newest.Size, state.Origin, c.Origin)
	case state.Size < c.Size:
		r.Missing = c.Size - state.Size
		r.line("log", "%d entries after this backup are missing: %d to %d, sealed until %s", r.Missing, state.Size+1, c.Size, instant(c.Sealed))
	default:
		r.line("log", "complete to entry %d, sealed %s; the checkpoint from outside is of entry %d, sealed %s",
			newest.Size, instant(newest.SealedAt), c.Size, instant(c.Sealed))
	}
	return nil
}
