package act

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"settlemark/db"
	"settlemark/internal/durable"
	"settlemark/internal/stamp"
)

// Stamp has the newest checkpoint stamped by the site's time stamp authority,
// once on each day of UTC, and says whether it did. One token covers every
// certificate under the checkpoint. It is kept in the database and, where the
// site has a folder for exports, there with the checkpoint that it is over.
func (a *Acts) Stamp(ctx context.Context, now time.Time) (stamped bool, err error) {
	if a.Log.Authority == "" {
		return false, nil
	}
	last, err := a.db.NewestStamp(ctx)
	if err != nil {
		return false, err
	}
	if sameDay(last.StampedAt, now) {
		return false, a.exportStamp(last)
	}
	checkpoint, err := a.db.Unstamped(ctx)
	if err != nil || checkpoint.Epoch == 0 {
		return false, err
	}
	token, err := stamp.Ask(ctx, a.Log.Authority, checkpoint.Signed, now)
	if err != nil {
		return false, err
	}
	s := db.LogStamp{
		Epoch: checkpoint.Epoch, Size: checkpoint.Size, Signed: checkpoint.Signed,
		Token: token.DER, Authority: token.Authority, StampedAt: moment(token.At),
	}
	if err := a.db.InTx(ctx, func(tx *db.Tx) error { return tx.StoreStamp(ctx, s) }); err != nil {
		return false, err
	}
	return true, a.exportStamp(s)
}

func sameDay(a, b time.Time) bool {
	return a.UTC().Truncate(24 * time.Hour).Equal(b.UTC().Truncate(24 * time.Hour))
}

// exportStamp writes checkpoint and token side by side, named by the day, where
// that was not done yet.
func (a *Acts) exportStamp(s db.LogStamp) error {
	if a.Log.Export == "" {
		return nil
	}
	dir := filepath.Join(a.Log.Export, "stamps")
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return err
	}
	name := filepath.Join(dir, fmt.Sprintf("%s-%d-%d", s.StampedAt.Format(time.DateOnly), s.Epoch, s.Size))
	if _, err := os.Stat(name + ".token"); err == nil {
		return nil
	}
	if err := durable.Write(name+".checkpoint", s.Signed); err != nil {
		return err
	}
	return durable.Write(name+".token", s.Token)
}
