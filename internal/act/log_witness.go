package act

import (
	"bytes"
	"context"
	"maps"
	"slices"
	"sync"

	"golang.org/x/mod/sumdb/tlog"

	"settlemark/db"
	"settlemark/internal/ledger"
)

// Witnesses gives the witnesses of the site's policy that have an address.
func (a *Acts) Witnesses() (map[string]ledger.Witness, error) {
	p, err := ledger.ReadPolicy([]byte(policyText(nil, a.Log.Witnesses)))
	return p.Witnesses(), err
}

// ToWitness is a checkpoint on its way to a witness.
type ToWitness struct {
	ledger.Submission
	Size int64

	checkpoint db.LogCheckpoint
}

// ToWitness gives the newest checkpoint for a witness that has seen the log up
// to a size, with the proof that it continues it. A size that the log has not
// is taken as none: another epoch has begun.
func (a *Acts) ToWitness(ctx context.Context, seen int64) (ToWitness, error) {
	c, err := a.db.SignedCheckpoint(ctx, 0, 0)
	if err != nil {
		return ToWitness{}, err
	}
	if seen > c.Size {
		seen = 0
	}
	w := ToWitness{Submission: ledger.Submission{Old: seen, Checkpoint: c.Signed}, Size: c.Size, checkpoint: c}
	if seen > 0 && seen < c.Size {
		w.Proof, err = tlog.ProveTree(c.Size, seen, a.db.LogTree(ctx, c.Epoch, c.Size))
	}
	return w, err
}

// contradictions are the words of witnesses that have cosigned another log under
// this one's name, as this process heard them last.
type contradictions struct {
	mu   sync.Mutex
	says map[string]string
}

// Contradicted notes why a witness refuses the log; "" when it does not. While
// one refuses, no checkpoint is signed.
func (a *Acts) Contradicted(witness, why string) {
	a.contradicted.mu.Lock()
	defer a.contradicted.mu.Unlock()
	if why == "" {
		delete(a.contradicted.says, witness)
	} else {
		a.contradicted.says[witness] = why
	}
}

// contradiction stops the sealing while a witness refuses the log.
func (a *Acts) contradiction() error {
	a.contradicted.mu.Lock()
	defer a.contradicted.mu.Unlock()
	for _, name := range slices.Sorted(maps.Keys(a.contradicted.says)) {
		return stop("the witness %s has cosigned another log under this name: %s; see \"After a restore\" in the manual", name, a.contradicted.says[name])
	}
	return nil
}

// Cosigned keeps the cosignatures that a witness gave for a checkpoint. Lines
// of keys that the policy does not know are left out. With enough of them the
// checkpoint is published.
func (a *Acts) Cosigned(ctx context.Context, w ToWitness, lines []byte) error {
	c := w.checkpoint
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
