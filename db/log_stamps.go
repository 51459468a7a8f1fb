package db

import (
	"context"
	"time"

	"settlemark/internal/problem"
)

// LogStamp is a time stamp authority's token over a checkpoint.
type LogStamp struct {
	Epoch     int
	Size      int64
	Signed    []byte // the checkpoint, byte for byte what was stamped
	Token     []byte // RFC 3161 TimeStampToken
	Authority string
	StampedAt time.Time
}

const newestStamp = `
select s.epoch, s.size, c.signed, s.token, s.authority, s.stamped_at
from log_stamps s join log_checkpoints c on c.epoch = s.epoch and c.size = s.size
order by s.stamped_at desc limit 1`

// NewestStamp gives the newest token, the zero value for none.
func (d *DB) NewestStamp(ctx context.Context) (_ LogStamp, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "NewestStamp")
	return zeroWhenNone(one[LogStamp](ctx, d.pool, newestStamp, args{}))
}

const unstamped = `
select c.epoch, c.size, c.root, c.sealed_at, c.signed
from log_checkpoints c join log_heads h on h.epoch = c.epoch and h.published = c.size
where c.epoch = (select max(epoch) from log_epochs)
  and not exists (select 1 from log_stamps s where s.epoch = c.epoch and s.size = c.size)`

// Unstamped gives the newest published checkpoint as its log signed it, without
// cosignatures, which may still come; the zero value when it is stamped.
func (d *DB) Unstamped(ctx context.Context) (_ LogCheckpoint, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Unstamped")
	return zeroWhenNone(one[LogCheckpoint](ctx, d.pool, unstamped, args{}))
}

const storeStamp = `select store_stamp(@epoch, @size, @token, @authority, @at)`

// StoreStamp keeps a token where the checkpoint has none.
func (t *Tx) StoreStamp(ctx context.Context, s LogStamp) error {
	return t.exec(ctx, storeStamp, args{
		"epoch": s.Epoch, "size": s.Size, "token": s.Token, "authority": s.Authority, "at": s.StampedAt,
	})
}
