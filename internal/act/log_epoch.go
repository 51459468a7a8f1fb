package act

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"time"

	"settlemark/db"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
)

// NewEpoch begins another tree with another key, after the database was
// restored to an older state or the key was lost. Its first leaf names the
// newest checkpoint that is known of the old tree and says how much of it the
// record still holds. known is a signed checkpoint from outside; nil takes the
// one beside the key or, without that, the database's. It gives the new name.
func (a *Acts) NewEpoch(ctx context.Context, reason string, known []byte, now time.Time) (string, error) {
	reason, err := required("reason", reason, "Say why a new epoch begins; it is written into the log.")
	if err != nil {
		return "", err
	}
	state, err := a.db.LogState(ctx)
	if err != nil {
		return "", err
	}
	if state.Origin == "" {
		return "", problem.New(problem.Conflict, "No log is open yet. Start the program first.")
	}
	last, held, err := a.lastKnown(ctx, state, known)
	if err != nil {
		return "", err
	}
	prefix := state.Origin[:strings.LastIndex(state.Origin, "/")]
	next := db.LogEpoch{
		Epoch: state.Epoch + 1, Origin: fmt.Sprintf("%s/%d", prefix, state.Epoch+1), Reason: reason,
		Leaf: ledger.RestoreLeaf(last, held, reason, moment(now)),
	}
	key, err := newLogKey(next.Origin)
	if err != nil {
		return "", err
	}
	next.VKey = key.vkey
	if err := writeLogKeys(a.Log.nextKey(), key); err != nil {
		return "", err
	}
	if err := a.db.InTx(ctx, func(tx *db.Tx) error { return tx.OpenLog(ctx, next, moment(now)) }); err != nil {
		return "", err
	}
	return next.Origin, a.finishEpoch(next.Origin)
}

// lastKnown gives the newest checkpoint of the epoch that ends, and how many of
// its leaves the database holds: none when its tree is another one.
func (a *Acts) lastKnown(ctx context.Context, state db.LogState, known []byte) (c ledger.Checkpoint, held int64, err error) {
	if known == nil {
		known, err = os.ReadFile(a.Log.HighWater())
		if errors.Is(err, fs.ErrNotExist) {
			var newest db.LogCheckpoint
			newest, err = a.db.LogCheckpoint(ctx, state.Epoch)
			known = newest.Signed
			if problem.KindOf(err) == problem.NotFound {
				return ledger.Checkpoint{Origin: state.Origin}, state.Size, nil
			}
		}
		if err != nil {
			return c, 0, err
		}
	}
	keys, err := a.db.LogKeys(ctx)
	if err != nil {
		return c, 0, err
	}
	policy, err := ledger.ReadPolicy([]byte(policyText(keys, "")))
	if err != nil {
		return c, 0, err
	}
	if c, err = ledger.OpenCheckpoint(known, policy); err != nil {
		return c, 0, problem.New(problem.Invalid, "The checkpoint is not one of this log: %v.", err)
	}
	if c.Origin != state.Origin {
		return c, 0, problem.New(problem.Invalid, "The checkpoint is of %s, the log is %s.", c.Origin, state.Origin)
	}
	if state.Size < c.Size {
		return c, state.Size, nil
	}
	if a.db.LogTree(ctx, state.Epoch, state.Size).Extends(c) != nil {
		return c, 0, nil
	}
	return c, c.Size, nil
}

// finishEpoch puts the next key in place once the database knows its epoch. The
// old key stays beside it under its epoch's number.
func (a *Acts) finishEpoch(origin string) error {
	next, err := readLogKeys(a.Log.nextKey())
	if err != nil || next == nil || next[0].signer.Name() != origin {
		return err
	}
	old, err := readLogKeys(a.Log.Key)
	if err == nil && old != nil {
		name := old[0].signer.Name()
		err = os.Rename(a.Log.Key, a.Log.Key+"."+name[strings.LastIndex(name, "/")+1:])
	}
	if err != nil {
		return err
	}
	return os.Rename(a.Log.nextKey(), a.Log.Key)
}
