package act

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"time"

	"settlemark/db"
	"settlemark/internal/problem"
)

// OpenLog makes the log's key and its first epoch where there are none, at the
// start of a program. A process without the key of a log that is open already
// does not seal; another one does.
func (a *Acts) OpenLog(ctx context.Context, now time.Time) error {
	if a.Log.Key == "" {
		return nil
	}
	state, err := a.db.LogState(ctx)
	if err != nil {
		return err
	}
	if err := a.finishEpoch(state.Origin); err != nil {
		return err
	}
	keys, err := readLogKeys(a.Log.Key)
	if err != nil || state.Origin != "" {
		return err
	}
	made := false
	if keys == nil {
		if keys, err = a.makeLogKey(); err != nil {
			return err
		}
		made = true
	} else if _, err := os.Stat(a.Log.HighWater()); !errors.Is(err, fs.ErrNotExist) {
		return stopped(&stopError{"the key file " + a.Log.Key + " is of the log " + keys[0].signer.Name() +
			", which this database does not know. Give this database a key file of its own with SETTLEMARK_LOG_KEY."})
	}
	err = a.db.InTx(ctx, func(tx *db.Tx) error {
		return tx.OpenLog(ctx, db.LogEpoch{Epoch: 1, Origin: keys[0].signer.Name(), VKey: keys[0].vkey}, moment(now))
	})
	if made && problem.KindOf(err) == problem.Conflict { // another program was first, with its key
		return os.Remove(a.Log.Key)
	}
	return err
}

// makeLogKey writes the key of a log that nobody else has: two installations
// must never share a name.
func (a *Acts) makeLogKey() ([]logKey, error) {
	instance := make([]byte, 6)
	if _, err := rand.Read(instance); err != nil {
		return nil, err
	}
	key, err := newLogKey(a.Log.Host + "/" + hex.EncodeToString(instance) + "/1")
	if err != nil {
		return nil, err
	}
	return []logKey{key}, writeLogKeys(a.Log.Key, key)
}
