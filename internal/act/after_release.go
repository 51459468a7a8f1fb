package act

import (
	"context"
	"slices"
	"strings"
	"time"

	"settlemark/db"
	"settlemark/internal/auth"
	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// RecordUnitEvent records what happened to a unit after its release and gives
// the certificate that it ended, "" when none stood that the event could end.
// Engineers and supervisors of the unit's site may. The status and its act are
// written in the same transaction; the file stays as it was issued.
func (a *Acts) RecordUnitEvent(ctx context.Context, p commissioning.Person, e commissioning.UnitEvent, now time.Time) (commissioning.CertificateNumber, error) {
	unit, err := a.db.Unit(ctx, p, e.Unit)
	if err != nil {
		return "", err
	}
	if err := p.May(commissioning.RecordUnitEvent, unit.Site); err != nil {
		return "", err
	}
	if !isUUID(e.ID) {
		return "", problem.On("id", "The form was not complete. Load the page again.")
	}
	if !slices.Contains(commissioning.EventKinds, e.Kind) {
		return "", problem.On("kind", "Choose what happened.")
	}
	if e.Detail, err = required("detail", e.Detail, "Say what exactly happened; whoever looks the certificate up here reads it."); err != nil {
		return "", err
	}
	e.HappenedAt = moment(e.HappenedAt)
	if e.HappenedAt.After(moment(now)) {
		return "", problem.On("happened", "That lies ahead. Give the time at which it happened.")
	}
	var voided commissioning.CertificateNumber
	err = a.db.InTx(ctx, func(tx *db.Tx) (err error) {
		if voided, err = tx.RecordUnitEvent(ctx, e, p.ID, moment(now)); err != nil {
			return err
		}
		return tx.Enqueue(ctx, StatusListJob{})
	})
	return voided, err
}

// Recall is the wish to withdraw certificates because of one lot of a fluid.
type Recall struct {
	Key        string // UUID, made by the form
	Fluid, Lot string
	Numbers    []commissioning.CertificateNumber
	Reason     string
	Proof      Proof
}

// RecallContent is what the proof of a recall is bound to, beside the numbers and
// the reason.
func RecallContent(fluid, lot string) []byte { return auth.ContentHash("recall/1", fluid, lot) }

func (r Recall) content() []byte {
	numbers := make([]string, len(r.Numbers))
	for i, n := range r.Numbers {
		numbers[i] = string(n)
	}
	return auth.Typed(RecallContent(r.Fluid, r.Lot), strings.Join(numbers, ","), r.Reason)
}

// RecallLot withdraws the chosen certificates of runs that loaded the lot, all
// or none, and gives those that were withdrawn before and stay as they are.
// Quality may, with one proof of identity for all.
func (a *Acts) RecallLot(ctx context.Context, p commissioning.Person, r Recall, now time.Time) ([]commissioning.CertificateNumber, error) {
	if err := p.MayAnywhere(commissioning.RecallLot); err != nil {
		return nil, err
	}
	if !isUUID(r.Key) {
		return nil, problem.On("key", "The form was not complete. Load the page again.")
	}
	if len(r.Numbers) == 0 {
		return nil, problem.On("number", "Tick the certificates that are to be withdrawn.")
	}
	reason, err := required("reason", r.Reason, "Say why the certificates are withdrawn; everybody who looks them up reads it.")
	if err != nil {
		return nil, err
	}
	loads, err := a.db.LotLoads(ctx, p, r.Fluid, r.Lot)
	if err != nil {
		return nil, err
	}
	for _, n := range r.Numbers {
		if !slices.ContainsFunc(loads, func(l commissioning.LotLoad) bool { return l.Certificate == n }) {
			return nil, problem.On("number", "The run of certificate %s has no entry of this lot. Search for the lot anew.", n)
		}
	}
	proof, err := a.prove(ctx, p, r.Proof, content{r.content(), r.Key}, now)
	if err != nil {
		return nil, err
	}
	var skipped []commissioning.CertificateNumber
	err = a.db.InTx(ctx, func(tx *db.Tx) (err error) {
		if err := proof.spend(ctx, tx, moment(now)); err != nil {
			return err
		}
		skipped, err = tx.Recall(ctx, db.Recall{
			ID: r.Key, Fluid: r.Fluid, Lot: r.Lot, Numbers: r.Numbers, Reason: reason, By: p.ID, Method: proof.method,
		}, moment(now))
		if err != nil {
			return err
		}
		return tx.Enqueue(ctx, StatusListJob{})
	})
	return skipped, err
}
