package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const identitiesOf = `
select issuer, subject, called from identities where person_id = @person order by linked_at, issuer`

// Identities gives the accounts at providers that sign a person in.
func (d *DB) Identities(ctx context.Context, id commissioning.PersonID) (_ []commissioning.Identity, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Identities(%s)", id)
	return list[commissioning.Identity](ctx, d.pool, identitiesOf, args{"person": id})
}

const personOfIdentity = `select person_id from identities where issuer = @issuer and subject = @subject`

// PersonOf gives whom an account at a provider signs in; NotFound when nobody.
func (t *Tx) PersonOf(ctx context.Context, i commissioning.Identity) (commissioning.PersonID, error) {
	return value[commissioning.PersonID](ctx, t.tx, personOfIdentity, args{"issuer": i.Issuer, "subject": i.Subject})
}

const linkIdentity = `
insert into identities (issuer, subject, person_id, linked_at, called) values (@issuer, @subject, @person, @now, @called)`

// LinkIdentity lets an account sign the person in. One that signs somebody in
// already is a Conflict, and so is a second one of the same provider.
func (t *Tx) LinkIdentity(ctx context.Context, id commissioning.PersonID, i commissioning.Identity, now time.Time) error {
	return t.exec(ctx, linkIdentity, args{"issuer": i.Issuer, "subject": i.Subject, "person": id, "now": now, "called": i.Called})
}

const unlinkIdentity = `
delete from identities where issuer = @issuer and subject = @subject and person_id = @person returning issuer`

// UnlinkIdentity gives whether the account signed the person in until now.
func (t *Tx) UnlinkIdentity(ctx context.Context, id commissioning.PersonID, i commissioning.Identity) (bool, error) {
	return t.happened(ctx, unlinkIdentity, args{"issuer": i.Issuer, "subject": i.Subject, "person": id})
}

const unlinkIdentities = `delete from identities where person_id = @person returning issuer, subject, called`

// UnlinkIdentities takes every account at a provider from a person and gives
// those that there were.
func (t *Tx) UnlinkIdentities(ctx context.Context, id commissioning.PersonID) ([]commissioning.Identity, error) {
	return list[commissioning.Identity](ctx, t.tx, unlinkIdentities, args{"person": id})
}
