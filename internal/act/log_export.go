package act

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"settlemark/db"
	"settlemark/internal/durable"
	"settlemark/internal/ledger"
)

// ExportedLog says what was written.
type ExportedLog struct {
	Epochs, Leaves, Checkpoints int
	Origin                      string // of the newest epoch
}

// ExportLog writes the whole log as a folder that an auditor can keep and check
// without us: policy.txt, and for each epoch a folder in the form of C2SP
// tlog-tiles with every checkpoint that was signed. Files that are there
// already are written over with the same or with more.
func (a *Acts) ExportLog(ctx context.Context, dir string) (done ExportedLog, err error) {
	policy, err := a.LogPolicy(ctx)
	if err != nil {
		return done, err
	}
	err = a.db.Inspect(ctx, func(i *db.Inspection) error {
		epochs, err := i.Epochs()
		if err != nil {
			return err
		}
		for _, e := range epochs {
			leaves, checkpoints, err := exportEpoch(i, e, filepath.Join(dir, strconv.Itoa(e.Epoch)))
			if err != nil {
				return fmt.Errorf("epoch %d: %w", e.Epoch, err)
			}
			done.Epochs, done.Leaves, done.Checkpoints, done.Origin = done.Epochs+1, done.Leaves+leaves, done.Checkpoints+checkpoints, e.Origin
		}
		return writeBelow(dir, "policy.txt", []byte(policy))
	})
	return done, err
}

// exportEpoch writes what is under the newest checkpoint of an epoch.
func exportEpoch(i *db.Inspection, e db.LogState, dir string) (leaves, checkpoints int, err error) {
	all, err := i.Checkpoints(e.Epoch)
	if err != nil || len(all) == 0 {
		return 0, 0, err
	}
	newest := all[len(all)-1].Size
	stored, err := i.Leaves(e.Epoch)
	if err != nil {
		return 0, 0, err
	}
	if int64(len(stored)) < newest {
		return 0, 0, fmt.Errorf("it has %d leaves, its newest checkpoint is of %d; run settlemark fsck", len(stored), newest)
	}
	data := make([][]byte, newest)
	tree := ledger.NewTree(0, func([]int64) ([]tlog.Hash, error) { return nil, nil })
	for n := range data {
		data[n] = stored[n].Data
		if err := tree.Append(data[n]); err != nil {
			return 0, 0, err
		}
	}
	tiles, err := ledger.Tiles(data, tree)
	if err != nil {
		return 0, 0, err
	}
	for _, t := range tiles {
		if err := writeBelow(dir, t.Path, t.Data); err != nil {
			return 0, 0, err
		}
	}
	return len(data), len(all), exportCheckpoints(i, e.Epoch, all, dir)
}

func exportCheckpoints(i *db.Inspection, epoch int, all []db.LogCheckpoint, dir string) error {
	cosigned, err := i.Cosignatures(epoch)
	if err != nil {
		return err
	}
	for n, c := range all {
		text := c.Signed
		for _, s := range cosigned {
			if s.Size == c.Size {
				text = append(text, s.Line...)
			}
		}
		if err := writeBelow(dir, fmt.Sprintf("checkpoints/%d", c.Size), text); err != nil {
			return err
		}
		if n == len(all)-1 {
			if err := writeBelow(dir, "checkpoint", text); err != nil {
				return err
			}
		}
	}
	return nil
}

func writeBelow(dir, path string, data []byte) error {
	name := filepath.Join(dir, filepath.FromSlash(path))
	if err := os.MkdirAll(filepath.Dir(name), 0o750); err != nil {
		return err
	}
	return os.WriteFile(name, data, 0o640) //nolint:gosec // public data for an auditor
}

// ExportCheckpoint copies the newest checkpoint to the site's export folder,
// over the one before, and once an hour under the hour's name: whoever would
// rewrite the past has to reach those copies too.
func (a *Acts) ExportCheckpoint(ctx context.Context, now time.Time) error {
	if a.Log.Export == "" {
		return nil
	}
	newest, err := a.db.SignedCheckpoint(ctx, 0, 0)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(a.Log.Export, 0o750); err != nil {
		return err
	}
	for _, name := range []string{"checkpoint", "checkpoint-" + now.UTC().Format("2006-01-02T15")} {
		path := filepath.Join(a.Log.Export, name)
		if _, err := os.Stat(path); err == nil && name != "checkpoint" {
			continue
		}
		if err := durable.Write(path, newest.Signed); err != nil {
			return err
		}
	}
	return nil
}
