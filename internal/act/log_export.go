package act

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"strconv"
	"time"

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
			leaves, checkpoints, err := exportEpoch(i, e.Epoch, filepath.Join(dir, strconv.Itoa(e.Epoch)))
			if err != nil {
				return fmt.Errorf("epoch %d: %w", e.Epoch, err)
			}
			done.Epochs, done.Leaves, done.Checkpoints, done.Origin = done.Epochs+1, done.Leaves+int(leaves), done.Checkpoints+checkpoints, e.Origin
		}
		return writeBelow(dir, "policy.txt", []byte(policy))
	})
	return done, err
}

// exportEpoch writes what is under the newest checkpoint of an epoch.
func exportEpoch(i *db.Inspection, epoch int, dir string) (leaves int64, checkpoints int, err error) {
	checkpoints, newest, err := exportCheckpoints(i, epoch, dir)
	if err != nil || checkpoints == 0 {
		return 0, 0, err
	}
	tiles := ledger.TileWriter{Write: func(path string, data []byte) error { return writeBelow(dir, path, data) }}
	for l, err := range i.Leaves(epoch) {
		if err != nil {
			return 0, 0, err
		}
		if l.Place == newest {
			break
		}
		if err := tiles.Append(l.Data); err != nil {
			return 0, 0, err
		}
	}
	leaves = tiles.Tree().Size()
	if leaves < newest {
		return 0, 0, fmt.Errorf("it has %d leaves, its newest checkpoint is of %d; run settlemark fsck", leaves, newest)
	}
	return leaves, checkpoints, tiles.Close()
}

// exportCheckpoints writes each with the cosignatures that stand under it, and
// gives the size of the newest.
func exportCheckpoints(i *db.Inspection, epoch int, dir string) (count int, newest int64, err error) {
	next, stop := iter.Pull2(i.Cosignatures(epoch))
	defer stop()
	cosigned, err, more := next()
	var text []byte
	for c, wrong := range i.Checkpoints(epoch) {
		if err := errors.Join(wrong, err); err != nil {
			return 0, 0, err
		}
		text = c.Signed
		for ; more && err == nil && cosigned.Size <= c.Size; cosigned, err, more = next() {
			text = append(text, cosigned.Line...)
		}
		count, newest = count+1, c.Size
		if err := writeBelow(dir, fmt.Sprintf("checkpoints/%d", c.Size), text); err != nil {
			return 0, 0, err
		}
	}
	if count == 0 || err != nil {
		return 0, 0, err
	}
	return count, newest, writeBelow(dir, "checkpoint", text)
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
