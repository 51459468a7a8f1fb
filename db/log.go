package db

import (
	"context"
	"time"

	"settlemark/internal/problem"
)

// LogHead says how far the log has come.
type LogHead struct {
	Epoch      int
	Size       int64 // leaves in the tree
	Signed     int64 // size of the newest checkpoint
	Published  int64 // size of the newest with the cosignatures that the site asks for
	StoppedAt  *time.Time
	StoppedFor string
}

// LogState is what a person should know about the log.
type LogState struct {
	LogHead
	Origin  string // "" while no epoch is open
	Waiting int64  // leaves outside of the tree that call for a checkpoint
	Since   *time.Time
}

const logState = `
select h.epoch, h.size, h.signed, h.published, h.stopped_at, h.stopped_for, e.origin,
  (select count(*) from log_outbox where not rides) as waiting, (select min(stored_at) from log_outbox where not rides) as since
from log_heads h join log_epochs e on e.epoch = h.epoch
where h.epoch = (select max(epoch) from log_epochs)`

// LogState gives the state of the newest epoch, the zero value before the first.
func (d *DB) LogState(ctx context.Context) (_ LogState, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "LogState")
	return zeroWhenNone(one[LogState](ctx, d.pool, logState, args{}))
}

const logWaits = `select exists (select 1 from log_outbox where not rides) or exists (select 1 from log_heads h
  where h.epoch = (select max(epoch) from log_epochs) and h.signed < h.size)`

// LogWaits says whether there is anything to seal.
func (d *DB) LogWaits(ctx context.Context) (_ bool, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "LogWaits")
	return value[bool](ctx, d.pool, logWaits, args{})
}

// LogKey is a public key that signs or signed for the log.
type LogKey struct {
	VKey   string `db:"vkey"`
	Epoch  int
	Origin string
	At     time.Time
}

const logKeys = `
select k.vkey, k.epoch, e.origin, k.at from log_keys k join log_epochs e on e.epoch = k.epoch order by k.epoch, k.at, k.vkey`

// LogKeys gives every key that ever signed, oldest first.
func (d *DB) LogKeys(ctx context.Context) (_ []LogKey, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "LogKeys")
	return list[LogKey](ctx, d.pool, logKeys, args{})
}

const lockLog = `select epoch, size, signed, published, stopped_at, stopped_for from lock_log()`

// LockLog gives the head of the newest epoch to the one who seals, until the
// transaction ends; nil while somebody else holds it or no epoch is open.
func (t *Tx) LockLog(ctx context.Context) (*LogHead, error) {
	found, err := list[LogHead](ctx, t.tx, lockLog, args{})
	if err != nil || len(found) == 0 {
		return nil, err
	}
	return &found[0], nil
}

// PendingLeaf is a leaf that is not in the tree yet.
type PendingLeaf struct {
	ID   int64
	Leaf []byte
}

const pendingLeaves = `select id, leaf from log_outbox order by id limit @limit`

// PendingLeaves gives the oldest leaves that wait. Some with lower numbers may
// come later, when their transactions commit; they go into a later batch.
func (t *Tx) PendingLeaves(ctx context.Context, limit int) ([]PendingLeaf, error) {
	return list[PendingLeaf](ctx, t.tx, pendingLeaves, args{"limit": limit})
}

const growLog = `select grow_log(@epoch, @size, @ids, @hashes)`

// GrowLog moves leaves into the tree of that size; hashes follow from them.
func (t *Tx) GrowLog(ctx context.Context, epoch int, size int64, ids []int64, hashes [][]byte) error {
	return t.exec(ctx, growLog, args{"epoch": epoch, "size": size, "ids": ids, "hashes": hashes})
}

// LogCheckpoint is a signed checkpoint as it is kept.
type LogCheckpoint struct {
	Epoch    int
	Size     int64
	Root     []byte
	SealedAt time.Time
	Signed   []byte
}

const sealLog = `select seal_log(@epoch, @size, @root, @sealed, @signed, @published)`

// SealLog keeps the checkpoint of the tree as it stands. Published says that it
// needs no cosignatures.
func (t *Tx) SealLog(ctx context.Context, c LogCheckpoint, published bool) error {
	return t.exec(ctx, sealLog, args{
		"epoch": c.Epoch, "size": c.Size, "root": c.Root, "sealed": c.SealedAt, "signed": c.Signed, "published": published,
	})
}

const newestCheckpoint = `select signed from log_checkpoints where epoch = @epoch order by size desc limit 1`

// NewestCheckpoint gives the newest signed note of an epoch, nil for none.
func (t *Tx) NewestCheckpoint(ctx context.Context, epoch int) ([]byte, error) {
	return zeroWhenNone(value[[]byte](ctx, t.tx, newestCheckpoint, args{"epoch": epoch}))
}

const stopLog = `select stop_log(@epoch, @now, @why)`

// StopLog notes why nothing is sealed. The next checkpoint clears it.
func (t *Tx) StopLog(ctx context.Context, epoch int, why string, now time.Time) error {
	return t.exec(ctx, stopLog, args{"epoch": epoch, "now": now, "why": why})
}

// LogEpoch is a new tree: under which name and key, why, and its first leaf.
type LogEpoch struct {
	Epoch  int
	Origin string
	VKey   string
	Reason string
	Leaf   []byte // nil for none
}

const openLog = `select open_log(@epoch, @origin, @vkey, @reason, @now, @leaf)`

// OpenLog begins an epoch. It is a Conflict when somebody else was first.
func (t *Tx) OpenLog(ctx context.Context, e LogEpoch, now time.Time) error {
	return t.exec(ctx, openLog, args{
		"epoch": e.Epoch, "origin": e.Origin, "vkey": e.VKey, "reason": e.Reason, "now": now, "leaf": e.Leaf,
	})
}

const addLogKey = `select add_log_key(@epoch, @vkey, @now, @leaf)`

// AddLogKey tells that another key signs from now on.
func (t *Tx) AddLogKey(ctx context.Context, epoch int, vkey string, leaf []byte, now time.Time) error {
	return t.exec(ctx, addLogKey, args{"epoch": epoch, "vkey": vkey, "now": now, "leaf": leaf})
}

const (
	cosignLog  = `select cosign_log(@epoch, @size, @witness, @line)`
	publishLog = `select publish_log(@epoch, @size)`
)

// CosignLog keeps a witness's cosignature of a checkpoint.
func (t *Tx) CosignLog(ctx context.Context, epoch int, size int64, witness, line string) error {
	return t.exec(ctx, cosignLog, args{"epoch": epoch, "size": size, "witness": witness, "line": line})
}

// PublishLog says that the checkpoint has the cosignatures that the site asks for.
func (t *Tx) PublishLog(ctx context.Context, epoch int, size int64) error {
	return t.exec(ctx, publishLog, args{"epoch": epoch, "size": size})
}

// zeroWhenNone takes NotFound as nothing there yet.
func zeroWhenNone[T any](v T, err error) (T, error) {
	if problem.KindOf(err) == problem.NotFound {
		var none T
		return none, nil
	}
	return v, err
}
