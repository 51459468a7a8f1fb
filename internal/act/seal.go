package act

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"slices"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"

	"settlemark/db"
	"settlemark/internal/durable"
	"settlemark/internal/ledger"
)

// SealBatch is how many leaves one round takes at most.
const SealBatch = 2000

// Seal moves what waits, at most SealBatch leaves, into the log's tree and
// signs what came of it. It gives how many leaves the new checkpoint covers for
// the first time; none when nothing waits, when somebody else seals just now,
// or when this process has no key.
//
// Growing and signing are two transactions: what is signed is committed before,
// so that a note which was signed and then lost is still true of the log. A
// checkpoint that is not a continuation of everything signed before is never
// signed: the error is then a Conflict, and sealing stays stopped until
// somebody acts; everything else goes on.
func (a *Acts) Seal(ctx context.Context, now time.Time) (sealed int64, err error) {
	if a.Log.Key == "" {
		return 0, nil
	}
	ctx = db.Sealing(ctx)
	waits, err := a.db.LogWaits(ctx)
	if err != nil || !waits {
		return 0, err
	}
	state, err := a.db.LogState(ctx)
	if err != nil || state.Origin == "" {
		return 0, err
	}
	s := sealing{acts: a, origin: state.Origin, at: moment(now)}
	sealed, err = s.round(ctx)
	var why *stopError
	if errors.As(err, &why) && ctx.Err() == nil { // a program that ends knows nothing of the tree
		if why.why != state.StoppedFor {
			a.log.ErrorContext(ctx, "SEALING STOPPED", "log", state.Origin, "why", why.why)
			err = a.db.InTx(ctx, func(tx *db.Tx) error { return tx.StopLog(ctx, state.Epoch, why.why, s.at) })
		}
		return 0, errors.Join(stopped(why), err)
	}
	return sealed, err
}

// sealing is one round on its way.
type sealing struct {
	acts   *Acts
	origin string
	at     time.Time
	keys   []logKey
}

func (s *sealing) round(ctx context.Context) (sealed int64, err error) {
	if s.keys, err = s.ownKeys(); err != nil || s.keys == nil {
		return 0, err
	}
	if err := s.acts.db.InTx(ctx, func(tx *db.Tx) error { return s.grow(ctx, tx) }); err != nil {
		return 0, err
	}
	err = s.acts.db.InTx(ctx, func(tx *db.Tx) (err error) {
		sealed, err = s.sign(ctx, tx)
		return err
	})
	return sealed, err
}

// ownKeys reads the keys of this log; none when there is no key file.
func (s *sealing) ownKeys() ([]logKey, error) {
	keys, err := readLogKeys(s.acts.Log.Key)
	for _, k := range keys {
		if k.signer.Name() != s.origin {
			return nil, stop("the key file is of the log %s, the database of %s; bring together what belongs together", k.signer.Name(), s.origin)
		}
	}
	return keys, err
}

// grow takes leaves from the outbox into the tree.
func (s *sealing) grow(ctx context.Context, tx *db.Tx) error {
	head, err := tx.LockLog(ctx)
	if err != nil || head == nil {
		return err
	}
	batch, err := tx.PendingLeaves(ctx, SealBatch)
	if err != nil || len(batch) == 0 {
		return err
	}
	tree := tx.LogTree(ctx, head.Epoch, head.Size)
	ids := make([]int64, len(batch))
	for i, pending := range batch {
		ids[i] = pending.ID
		if err := tree.Append(pending.Leaf); err != nil {
			return err
		}
	}
	hashes := make([][]byte, len(tree.Made()))
	for i := range hashes {
		hashes[i] = tree.Made()[i][:]
	}
	return tx.GrowLog(ctx, head.Epoch, head.Size, ids, hashes)
}

// sign makes the checkpoint of the tree as it was committed.
func (s *sealing) sign(ctx context.Context, tx *db.Tx) (int64, error) {
	head, err := tx.LockLog(ctx)
	if err != nil || head == nil || head.Signed >= head.Size {
		return 0, err
	}
	tree := tx.LogTree(ctx, head.Epoch, head.Size)
	if err := s.continues(ctx, tx, tree, *head); err != nil {
		return 0, err
	}
	root, err := tree.RootAt(head.Size)
	if err != nil {
		return 0, stop("the tree of the log is damaged: %v; run settlemark fsck", err)
	}
	signed, err := ledger.SignCheckpoint(ledger.Checkpoint{Origin: s.origin, Size: head.Size, Root: root, Sealed: s.at}, s.signers()...)
	if err != nil {
		return 0, err
	}
	s.acts.onSigned(signed)
	if err := durable.Write(s.acts.Log.HighWater(), signed); err != nil {
		return 0, stop("the newest checkpoint can't be kept beside the key: %v; see to the disk", err)
	}
	return head.Size - head.Signed, tx.SealLog(ctx, db.LogCheckpoint{
		Epoch: head.Epoch, Size: head.Size, Root: root[:], SealedAt: s.at, Signed: signed,
	}, !s.acts.asksWitnesses())
}

func (s *sealing) signers() []note.Signer {
	signers := make([]note.Signer, len(s.keys))
	for i, k := range s.keys {
		signers[i] = k.signer
	}
	return signers
}

// continues refuses a tree that does not contain everything that was signed
// before: here, by what lies beside the key, by whoever wrote the database, and
// as witnesses saw it.
func (s *sealing) continues(ctx context.Context, tx *db.Tx, tree *ledger.Tree, head db.LogHead) error {
	if err := s.acts.contradiction(); err != nil {
		return err
	}
	newest, err := tx.NewestCheckpoint(ctx, head.Epoch)
	if err != nil {
		return err
	}
	text, err := os.ReadFile(s.acts.Log.HighWater())
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return stop("the newest checkpoint beside the key can't be read: %v", err)
	}
	if text == nil && head.Signed > 0 {
		return stop("no checkpoint lies beside the key, so nobody here can say what it signed last; "+
			"put the newest one there as %s, or begin another epoch; see \"After a restore\" in the manual", s.acts.Log.HighWater())
	}
	policy, err := verifiers(s.keys)
	if err != nil {
		return err
	}
	for _, note := range []struct {
		text  []byte
		where string
	}{{text, "beside the key"}, {newest, "in the database"}} {
		if len(note.text) == 0 {
			continue
		}
		if older, err := s.olderEpoch(ctx, note.text); err != nil || older {
			if err != nil {
				return err
			}
			continue
		}
		c, err := ledger.OpenCheckpoint(note.text, policy)
		if err != nil {
			return stop("the newest checkpoint %s is not one that this key signed: %v", note.where, err)
		}
		if err := tree.Extends(c); err != nil {
			return stop("the log does not continue the newest checkpoint %s: %v; see \"After a restore\" in the manual", note.where, err)
		}
		if s.at.Before(c.Sealed) {
			return stop("the clock says %s, the newest checkpoint %s is of %s; set the clock", ledger.Instant(s.at), note.where, ledger.Instant(c.Sealed))
		}
	}
	return nil
}

// olderEpoch says whether a note is of an earlier epoch of this log, which the
// database knows to have ended.
func (s *sealing) olderEpoch(ctx context.Context, signed []byte) (bool, error) {
	origin, _, _ := strings.Cut(string(signed), "\n")
	if origin == s.origin {
		return false, nil
	}
	keys, err := s.acts.db.LogKeys(ctx)
	return slices.ContainsFunc(keys, func(k db.LogKey) bool { return k.Origin == origin }), err
}

// asksWitnesses says whether a checkpoint needs cosignatures before it counts.
func (a *Acts) asksWitnesses() bool {
	lines := strings.Fields(a.Log.Witnesses)
	i := slices.Index(lines, "quorum")
	return i >= 0 && i+1 < len(lines) && lines[i+1] != "none"
}
