package act

import (
	"context"
	"time"

	"settlemark/db"
	"settlemark/internal/commissioning"
)

// Withdraw withdraws a certificate with a reason. Quality may. The file stays
// as it was issued; every later look shows the withdrawal.
func (a *Acts) Withdraw(ctx context.Context, p commissioning.Person, number commissioning.CertificateNumber, reason string, now time.Time) error {
	if err := p.May(commissioning.Withdraw, 0); err != nil {
		return err
	}
	reason, err := required("reason", reason, "Say why the certificate is withdrawn; everybody who looks it up reads it.")
	if err != nil {
		return err
	}
	return a.db.InTx(ctx, func(tx *db.Tx) error { return tx.Withdraw(ctx, number, p.ID, reason, moment(now)) })
}
