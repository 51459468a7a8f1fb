package act

import (
	"context"
	"time"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
)

// WithdrawalContent is what the proof of a withdrawal is bound to, beside its
// reason.
func WithdrawalContent(number commissioning.CertificateNumber) []byte {
	return auth.ContentHash("withdraw/1", string(number))
}

// Withdraw withdraws a certificate with a reason, by a proof of identity.
// Quality may. The file stays as it was issued; every later look shows the
// withdrawal.
func (a *Acts) Withdraw(ctx context.Context, p commissioning.Person, number commissioning.CertificateNumber, reason string, s Signing, now time.Time) error {
	if err := p.May(commissioning.Withdraw, 0); err != nil {
		return err
	}
	reason, err := required("reason", reason, "Say why the certificate is withdrawn; everybody who looks it up reads it.")
	if err != nil {
		return err
	}
	proof, err := a.prove(ctx, p, s.Proof, content{auth.Typed(WithdrawalContent(number), reason), s.Nonce}, now)
	if err != nil {
		return err
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return err
		}
		if err := tx.Withdraw(ctx, number, p.ID, reason, moment(now)); err != nil {
			return err
		}
		return tx.Enqueue(ctx, StatusListJob{})
	})
}
