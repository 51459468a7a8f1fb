package act

import (
	"bytes"
	"context"

	"golang.org/x/mod/sumdb/tlog"

	"settlemark/db"
	"settlemark/internal/ledger"
)

// Witnesses gives the witnesses of the site's policy that have an address.
func (a *Acts) Witnesses() (map[string]ledger.Witness, error) {
	p, err := ledger.ReadPolicy([]byte(policyText(nil, a.Log.Witnesses)))
	return p.Witnesses(), err
}

// ToWitness gives the newest checkpoint, whether or not witnesses have seen it.
func (a *Acts) ToWitness(ctx context.Context) (db.LogCheckpoint, error) {
	return a.db.SignedCheckpoint(ctx, 0, 0)
}

// ProveGrowth shows that the log of size older is the beginning of the checkpoint's.
func (a *Acts) ProveGrowth(ctx context.Context, older int64, c db.LogCheckpoint) (tlog.TreeProof, error) {
	if older == 0 || older == c.Size {
		return nil, nil
	}
	return tlog.ProveTree(c.Size, older, a.db.LogTree(ctx, c.Epoch, c.Size))
}

// Cosigned keeps the cosignatures that a witness gave for a checkpoint. Lines
// of keys that the policy does not know are left out. With enough of them the
// checkpoint is published.
func (a *Acts) Cosigned(ctx context.Context, c db.LogCheckpoint, lines []byte) error {
	text, err := a.LogPolicy(ctx)
	if err != nil {
		return err
	}
	policy, err := ledger.ReadPolicy([]byte(text))
	if err != nil {
		return err
	}
	given, err := ledger.Cosignatures(append(bytes.Clone(c.Signed), lines...), policy)
	if err != nil {
		return err
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		for _, s := range given {
			if err := tx.CosignLog(ctx, c.Epoch, c.Size, s.Witness, s.Line); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	whole, err := a.db.SignedCheckpoint(ctx, c.Epoch, c.Size)
	if err != nil {
		return err
	}
	if _, err := ledger.OpenCheckpoint(whole.Signed, policy); err != nil {
		return nil //nolint:nilerr // not enough witnesses yet
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error { return tx.PublishLog(ctx, c.Epoch, c.Size) })
}
