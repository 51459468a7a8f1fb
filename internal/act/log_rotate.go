package act

import (
	"context"
	"slices"
	"time"

	"golang.org/x/mod/sumdb/note"

	"settlemark/db"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
)

// RotateLogKey makes the key that will follow and tells of it in the log, under
// the old key's signature. Both sign until RetireLogKey, so that readers with
// either policy believe. It gives the new verifier key. A second call finishes
// what a first one could not.
func (a *Acts) RotateLogKey(ctx context.Context, now time.Time) (string, error) {
	keys, known, err := a.logKeys(ctx)
	if err != nil {
		return "", err
	}
	if len(keys) == 1 {
		next, err := newLogKey(keys[0].signer.Name())
		if err != nil {
			return "", err
		}
		keys = append(keys, next)
		// The file first: a key that was told of and is lost would be worse than
		// one that signs before it is told of.
		if err := writeLogKeys(a.Log.Key, keys...); err != nil {
			return "", err
		}
	} else if known[keys[1].vkey] {
		return "", problem.New(problem.Conflict, "One key follows another already. Retire the old one first.")
	}
	origin, next := keys[0].signer.Name(), keys[1].vkey
	signed, err := note.Sign(&note.Note{Text: "key/1\n" + origin + "\n" + next + "\n"}, keys[0].signer)
	if err != nil {
		return "", err
	}
	state, err := a.db.LogState(ctx)
	if err != nil {
		return "", err
	}
	leaf := ledger.KeyLeaf(origin, next, string(signed), moment(now))
	return next, a.db.InTx(ctx, func(tx *db.Tx) error { return tx.AddLogKey(ctx, state.Epoch, next, leaf, moment(now)) })
}

// RetireLogKey ends the time in which two keys sign: from now on the new one
// alone does.
func (a *Acts) RetireLogKey(ctx context.Context) error {
	keys, known, err := a.logKeys(ctx)
	if err != nil {
		return err
	}
	if len(keys) != 2 || !known[keys[1].vkey] {
		return problem.New(problem.Conflict, "No new key signs yet. Make one first.")
	}
	next, err := verifiers(keys[1:])
	if err != nil {
		return err
	}
	newest, err := a.db.LogCheckpoint(ctx, 0)
	if err != nil {
		return err
	}
	if _, err := ledger.OpenCheckpoint(newest.Signed, next); err != nil {
		return problem.New(problem.Conflict, "The new key has signed nothing yet. Wait until the program has sealed once more.")
	}
	return writeLogKeys(a.Log.Key, keys[1])
}

// logKeys gives the keys of the file and those that the log was told of.
func (a *Acts) logKeys(ctx context.Context) (keys []logKey, known map[string]bool, err error) {
	if keys, err = readLogKeys(a.Log.Key); err != nil {
		return nil, nil, err
	}
	told, err := a.db.LogKeys(ctx)
	if err != nil {
		return nil, nil, err
	}
	known = map[string]bool{}
	for _, k := range told {
		known[k.VKey] = true
	}
	if keys == nil || !slices.ContainsFunc(keys, func(k logKey) bool { return known[k.vkey] }) {
		return nil, nil, problem.New(problem.Conflict, "This machine does not hold the log's key. Do it where the key file is.")
	}
	return keys, known, nil
}
