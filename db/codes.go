package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const offerSeed = `
insert into code_seeds as s (person_id, offered) values (@person, @seed)
on conflict (person_id) do update set offered = coalesce(s.offered, @seed)
returning offered`

// OfferSeed keeps a sealed seed that is not in use yet, and gives the one that
// was offered before when there is one: a page shown twice shows the same.
func (t *Tx) OfferSeed(ctx context.Context, person commissioning.PersonID, seed []byte) ([]byte, error) {
	return value[[]byte](ctx, t.tx, offerSeed, args{"person": person, "seed": seed})
}

const offeredSeed = `
select offered from code_seeds where person_id = @person and offered is not null for update`

// OfferedSeed gives the sealed seed that was offered; NotFound when there is none.
func (t *Tx) OfferedSeed(ctx context.Context, person commissioning.PersonID) ([]byte, error) {
	return value[[]byte](ctx, t.tx, offeredSeed, args{"person": person})
}

const takeSeed = `
update code_seeds set seed = offered, offered = null, last_step = @step, last_use = null where person_id = @person`

// TakeSeed puts the offered seed to use; step is that of its first code.
func (t *Tx) TakeSeed(ctx context.Context, person commissioning.PersonID, step int64) error {
	return t.exec(ctx, takeSeed, args{"person": person, "step": step})
}

const useStep = `
update code_seeds set last_step = @step, last_use = @use
where person_id = @person and (last_step < @step or last_step = @step and last_use = @use) returning last_step`

// UseStep spends the code of a step for one use: false when it, or a later one,
// was spent for another.
func (t *Tx) UseStep(ctx context.Context, person commissioning.PersonID, step int64, use []byte) (bool, error) {
	return t.happened(ctx, useStep, args{"person": person, "step": step, "use": use})
}

const sealedSecrets = `
select exists (select 1 from code_seeds) or exists (select 1 from persons where password like '%,keyid=%')`

// SealedSecrets says whether anything was made with a key file: a seed that it
// seals or a password that it peppers.
func (d *DB) SealedSecrets(ctx context.Context) (_ bool, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "SealedSecrets")
	return value[bool](ctx, d.pool, sealedSecrets, args{})
}

const voidSealed = `
with passwords as (update persons set password = null where password like '%,keyid=%' returning id),
  seeds as (delete from code_seeds returning person_id)
select id from passwords union select person_id from seeds order by id`

// VoidSealed takes from everybody what was made with a key file, and gives whom
// that concerns.
func (t *Tx) VoidSealed(ctx context.Context) ([]commissioning.PersonID, error) {
	return column[commissioning.PersonID](ctx, t.tx, voidSealed, args{})
}

const dropSeed = `delete from code_seeds where person_id = @person`

// DropSeed makes the person's authenticator app worthless here.
func (t *Tx) DropSeed(ctx context.Context, person commissioning.PersonID) error {
	return t.exec(ctx, dropSeed, args{"person": person})
}

const dropRecovery = `delete from recovery_codes where person_id = @person`

const insertRecovery = `
insert into recovery_codes (person_id, code_hash) select @person, unnest(@hashes::bytea[])`

// SetRecovery replaces the recovery codes of a person.
func (t *Tx) SetRecovery(ctx context.Context, person commissioning.PersonID, hashes [][]byte) error {
	if err := t.exec(ctx, dropRecovery, args{"person": person}); err != nil {
		return err
	}
	return t.exec(ctx, insertRecovery, args{"person": person, "hashes": hashes})
}

const recovery = `
select exists (select 1 from recovery_codes where person_id = @person and code_hash = @hash)`

// Recovery says whether this is a recovery code of the person, used or not.
func (d *DB) Recovery(ctx context.Context, person commissioning.PersonID, hash []byte) (_ bool, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Recovery(%s)", person)
	return value[bool](ctx, d.pool, recovery, args{"person": person, "hash": hash})
}

const useRecovery = `
update recovery_codes set used_at = coalesce(used_at, @now), used_for = @use
where person_id = @person and code_hash = @hash and (used_at is null or used_for = @use) returning code_hash`

// UseRecovery spends a recovery code for one use: false when it was spent for
// another.
func (t *Tx) UseRecovery(ctx context.Context, person commissioning.PersonID, hash, use []byte, now time.Time) (bool, error) {
	return t.happened(ctx, useRecovery, args{"person": person, "hash": hash, "use": use, "now": now})
}

const dropPasskeys = `delete from passkeys where person_id = @person`

// VoidFactors takes every second factor from a person.
func (t *Tx) VoidFactors(ctx context.Context, person commissioning.PersonID) error {
	for _, drop := range []string{dropSeed, dropRecovery, dropPasskeys} {
		if err := t.exec(ctx, drop, args{"person": person}); err != nil {
			return err
		}
	}
	return nil
}
