package db

import (
	"context"
	"crypto/sha256"
	"fmt"

	"golang.org/x/mod/sumdb/tlog"

	"settlemark/internal/commissioning"
	"settlemark/internal/ledger"
	"settlemark/internal/problem"
	"settlemark/internal/words"
)

const logNodes = `
select n.hash from unnest(@places::bigint[]) with ordinality as s (place, i)
join log_nodes n on n.epoch = @epoch and n.place = s.place order by s.i`

// tree is the log's tree at a size, over its stored hashes.
func tree(ctx context.Context, q querier, epoch int, size int64) *ledger.Tree {
	return ledger.NewTree(size, func(places []int64) ([]tlog.Hash, error) {
		found, err := column[[]byte](ctx, q, logNodes, args{"epoch": epoch, "places": places})
		if err != nil {
			return nil, err
		}
		hashes := make([]tlog.Hash, len(found))
		for i, h := range found {
			hashes[i] = tlog.Hash(h)
		}
		return hashes, nil
	})
}

// LogTree is the tree of an epoch at a size, as this transaction sees it.
func (t *Tx) LogTree(ctx context.Context, epoch int, size int64) *ledger.Tree {
	return tree(ctx, t.tx, epoch, size)
}

// LogTree is the tree of an epoch at a size. What is in it never changes.
func (d *DB) LogTree(ctx context.Context, epoch int, size int64) *ledger.Tree {
	return tree(ctx, d.pool, epoch, size)
}

const logCheckpoint = `
select c.epoch, c.size, c.root, c.sealed_at,
  c.signed || coalesce((select convert_to(string_agg(s.line, '' order by s.witness), 'UTF8') from log_cosignatures s
    where s.epoch = c.epoch and s.size = c.size), '') as signed
from log_checkpoints c join log_heads h on h.epoch = c.epoch and h.published = c.size
where c.epoch = @epoch or @epoch = 0 and c.epoch = (select max(epoch) from log_epochs)`

// LogCheckpoint gives the newest published checkpoint of an epoch, 0 for the
// newest epoch, with its cosignatures. NotFound while there is none.
func (d *DB) LogCheckpoint(ctx context.Context, epoch int) (_ LogCheckpoint, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "LogCheckpoint(%d)", epoch)
	return one[LogCheckpoint](ctx, d.pool, logCheckpoint, args{"epoch": epoch})
}

const signedCheckpoint = `
select c.epoch, c.size, c.root, c.sealed_at,
  c.signed || coalesce((select convert_to(string_agg(s.line, '' order by s.witness), 'UTF8') from log_cosignatures s
    where s.epoch = c.epoch and s.size = c.size), '') as signed
from log_checkpoints c join log_heads h on h.epoch = c.epoch
where c.epoch = @epoch and c.size = @size
  or @epoch = 0 and c.epoch = (select max(epoch) from log_epochs) and c.size = h.signed`

// SignedCheckpoint gives a checkpoint, published or not, with the cosignatures
// that it has; epoch 0 is the newest of all. NotFound while there is none.
func (d *DB) SignedCheckpoint(ctx context.Context, epoch int, size int64) (_ LogCheckpoint, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "SignedCheckpoint(%d, %d)", epoch, size)
	return one[LogCheckpoint](ctx, d.pool, signedCheckpoint, args{"epoch": epoch, "size": size})
}

const (
	logPublished = `select published from log_heads where epoch = @epoch`
	logBundle    = `select leaf from log_leaves where epoch = @epoch and place >= @from and place < @to order by place`
)

// LogTile gives a tile of an epoch by its path, tile/0/000: its hashes or its
// leaves, as far as the newest published checkpoint reaches; NotFound beyond.
func (d *DB) LogTile(ctx context.Context, epoch int, path string) (_ []byte, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "LogTile(%d, %s)", epoch, path)
	t, err := ledger.ReadTilePath(path)
	if err != nil {
		return nil, &problem.Error{Kind: problem.NotFound, Sentence: words.Say("The log has no such tile. Read its checkpoint to see how large it is."), Cause: err}
	}
	size, err := value[int64](ctx, d.pool, logPublished, args{"epoch": epoch})
	if err != nil {
		return nil, err
	}
	if ledger.TileNeeds(t) > size {
		return nil, problem.New(problem.NotFound, "The log has no such tile yet. Read its checkpoint to see how large it is.")
	}
	if !ledger.IsBundle(t) {
		return tlog.ReadTileData(t, d.LogTree(ctx, epoch, size))
	}
	from := t.N << ledger.TileHeight
	leaves, err := column[[]byte](ctx, d.pool, logBundle, args{"epoch": epoch, "from": from, "to": from + int64(t.W)})
	if err != nil {
		return nil, err
	}
	if len(leaves) != t.W {
		return nil, fmt.Errorf("%d of %d leaves are there; run settlemark fsck", len(leaves), t.W)
	}
	return ledger.Bundle(leaves)
}

const leafByContent = `select epoch, place from log_leaves where sha256(leaf) = @digest order by epoch desc, place limit 1`

// CertificateProof gives the proof that the release stands in the log, as a
// C2SP tlog-proof under the newest published checkpoint. It is Busy in the
// short time until the release is sealed. It is not scoped: for the making of
// the file, not for pages.
func (d *DB) CertificateProof(ctx context.Context, n commissioning.CertificateNumber) (_ []byte, err error) {
	document, err := d.Document(ctx, n)
	if err != nil {
		return nil, err
	}
	return d.logProof(ctx, ledger.CertificateLeaf(string(n), document))
}

// logProof proves any leaf.
func (d *DB) logProof(ctx context.Context, leaf []byte) (_ []byte, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "logProof")
	type position struct {
		Epoch int
		Place int64
	}
	digest := sha256.Sum256(leaf)
	at, err := one[position](ctx, d.pool, leafByContent, args{"digest": digest[:]})
	if problem.KindOf(err) == problem.NotFound {
		return nil, errNotSealed
	}
	if err != nil {
		return nil, err
	}
	checkpoint, err := d.LogCheckpoint(ctx, at.Epoch)
	if problem.KindOf(err) == problem.NotFound || err == nil && checkpoint.Size <= at.Place {
		return nil, errNotSealed
	}
	if err != nil {
		return nil, err
	}
	hashes, err := d.LogTree(ctx, at.Epoch, checkpoint.Size).Prove(at.Place, checkpoint.Size)
	if err != nil {
		return nil, fmt.Errorf("leaf %d of epoch %d: %w", at.Place, at.Epoch, err)
	}
	return ledger.Proof{Index: at.Place, Hashes: hashes, Checkpoint: checkpoint.Signed}.Text(), nil
}

var errNotSealed = problem.New(problem.Busy, "The release is stored and not sealed in the log yet. Try again in a moment.")
