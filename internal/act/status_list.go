package act

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"time"

	"settlemark/db"
	"settlemark/internal/durable"
	"settlemark/internal/ledger"
)

// A list says that the next one comes within listLife; it is made anew when
// half of that has passed, so that nobody ever holds the newest and finds it old.
const (
	listLife  = time.Hour
	listRenew = listLife / 2
)

// IssueStatusList makes and signs a new status list when one is due: after each
// change, and well before the last one grows old. It says whether it did; it
// does not when somebody else seals just now or this process has no key.
//
// It signs under the rules of a checkpoint: never over a log that does not
// continue what was signed before, since a database that was set back may have
// lost a withdrawal. Then it is a Conflict, and the last list grows old, which
// whoever checks a certificate is told.
func (a *Acts) IssueStatusList(ctx context.Context, now time.Time) (issued bool, err error) {
	if a.Log.Key == "" {
		return false, nil
	}
	due, err := a.db.StatusListDue(ctx, moment(now).Add(-listRenew))
	if err != nil || !due {
		return false, err
	}
	state, err := a.db.LogState(ctx)
	if err != nil || state.Origin == "" {
		return false, err
	}
	s := sealing{acts: a, origin: state.Origin, at: moment(now)}
	if s.keys, err = s.ownKeys(); err != nil || s.keys == nil {
		return false, sealingError(err)
	}
	var signed []byte
	err = a.db.InTx(ctx, func(tx *db.Tx) (err error) {
		signed, err = s.list(ctx, tx)
		return err
	})
	if err != nil || signed == nil {
		return false, sealingError(err)
	}
	return true, a.exportStatusList(signed)
}

// exportStatusList puts the list beside the checkpoints that leave the machine.
func (a *Acts) exportStatusList(signed []byte) error {
	if a.Log.Export == "" {
		return nil
	}
	if err := os.MkdirAll(a.Log.Export, 0o750); err != nil {
		return err
	}
	return durable.Write(filepath.Join(a.Log.Export, "status"), signed)
}

// sealingError turns the reason why nothing is signed into a refusal.
func sealingError(err error) error {
	var why *stopError
	if errors.As(err, &why) {
		return stopped(why)
	}
	return err
}

// list makes and keeps the list while it holds the head of the log, so every
// change that is in the log by then is in the list; nil when another one seals.
func (s *sealing) list(ctx context.Context, tx *db.Tx) ([]byte, error) {
	head, err := tx.LockLog(ctx)
	if err != nil || head == nil || head.Size == 0 {
		return nil, err
	}
	if err := s.continues(ctx, tx, tx.LogTree(ctx, head.Epoch, head.Size), *head); err != nil {
		return nil, err
	}
	last, err := tx.StatusList(ctx)
	if err != nil {
		return nil, err
	}
	if s.at.Before(last.IssuedAt) {
		return nil, stop("the clock says %s, the newest status list is of %s; set the clock", ledger.Instant(s.at), ledger.Instant(last.IssuedAt))
	}
	l := ledger.StatusList{
		Origin: s.origin, Issued: s.at, NextUpdate: s.at.Add(listLife), LogSize: head.Size,
		// The seconds of its issue, not a count: a database that was set back
		// must not give a number that somebody has seen.
		Number: max(last.Number+1, s.at.Unix()),
	}
	ended, changes, err := tx.EndedCertificates(ctx)
	if err != nil {
		return nil, err
	}
	for _, c := range ended {
		l.Lines = append(l.Lines, ledger.StatusLine{Number: c.Number, Status: c.Status, At: c.At, Reason: c.Reason})
	}
	signed, err := ledger.SignStatusList(l, s.signers()...)
	if err != nil {
		return nil, err
	}
	return signed, tx.StoreStatusList(ctx, db.StatusList{
		Number: l.Number, Epoch: head.Epoch, IssuedAt: l.Issued, NextUpdate: l.NextUpdate, Changes: changes, Signed: signed,
	})
}
