package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// Credential is what a proof of identity is compared with.
type Credential struct {
	Person      commissioning.PersonID
	Password    string // PHC string, "" when none is set or the person is disabled
	WrongProofs int    // in a row, at signatures
	Seed        []byte // sealed, of the authenticator app; empty when there is none
	Passkeys    int    // how many there are
}

const whoProves = `
select p.id as person, coalesce(case when p.disabled_at is null then p.password end, '') as password, p.wrong_proofs,
  s.seed,
  (select count(*) from passkeys k where k.person_id = p.id) as passkeys
from persons p left join code_seeds s on s.person_id = p.id
where p.id = @id or p.login = @login`

// Factored says whether the person has a second factor.
func (c Credential) Factored() bool { return len(c.Seed) > 0 || c.Passkeys > 0 }

// CredentialOf gives the credential of a person; NotFound when there is none.
func (d *DB) CredentialOf(ctx context.Context, id commissioning.PersonID) (_ Credential, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "CredentialOf(%s)", id)
	return one[Credential](ctx, d.pool, whoProves, args{"id": id, "login": nil})
}

// CredentialFor gives the credential behind a login; NotFound when there is none.
func (d *DB) CredentialFor(ctx context.Context, login string) (_ Credential, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "CredentialFor")
	return one[Credential](ctx, d.pool, whoProves, args{"id": nil, "login": login})
}

// Credential is the credential of a person as of this transaction.
func (t *Tx) Credential(ctx context.Context, id commissioning.PersonID) (Credential, error) {
	return one[Credential](ctx, t.tx, whoProves, args{"id": id, "login": nil})
}

// CredentialFor is the credential behind a login as of this transaction.
func (t *Tx) CredentialFor(ctx context.Context, login string) (Credential, error) {
	return one[Credential](ctx, t.tx, whoProves, args{"id": nil, "login": login})
}

const setPassword = `
update persons set password = @password, wrong_proofs = 0 where id = @id`

// SetPassword keeps the hash of a person's new password.
func (t *Tx) SetPassword(ctx context.Context, id commissioning.PersonID, phc string) error {
	return t.exec(ctx, setPassword, args{"id": id, "password": phc})
}

const countProof = `
update persons set wrong_proofs = case when @right then 0 else wrong_proofs + 1 end
where id = @id returning wrong_proofs`

// CountProof notes a right or wrong proof of identity at a signature and gives
// how many wrong ones came in a row.
func (t *Tx) CountProof(ctx context.Context, id commissioning.PersonID, right bool) (int, error) {
	return value[int](ctx, t.tx, countProof, args{"id": id, "right": right})
}

// One statement counts and says whether it is too early, so that many at once
// can't try many passwords.
const tryAccount = `
insert into throttles as t (key, tries, since, next_at) values (@key, 1, @now, @now)
on conflict (key) do update set
  tries = case when t.next_at < @forget then 1 else t.tries + 1 end,
  since = case when t.next_at < @forget then @now else t.since end,
  next_at = @now + case when t.next_at < @forget then '0'
    else (@waits::interval[])[least(t.tries + 1, cardinality(@waits::interval[]))] end
where t.next_at <= @now
  or (@waits::interval[])[least(t.tries, cardinality(@waits::interval[]))] = '0' -- two at one moment, no wait between them
returning next_at`

const nextTry = `select next_at from throttles where key = @key`

// TryAccount counts a try at an account and sets when the next one may come:
// waits[n-1] after the nth in a row; the count starts afresh after forget. It
// gives how long is still to wait, 0 when this try may go on.
func (t *Tx) TryAccount(ctx context.Context, key string, waits []time.Duration, forget time.Duration, now time.Time) (time.Duration, error) {
	_, err := value[time.Time](ctx, t.tx, tryAccount, args{"key": key, "now": now, "waits": waits, "forget": now.Add(-forget)})
	if problem.KindOf(err) != problem.NotFound {
		return 0, err
	}
	next, err := value[time.Time](ctx, t.tx, nextTry, args{"key": key})
	return next.Sub(now), err
}

const tryAddress = `
insert into throttles as t (key, tries, since, next_at) values (@key, 1, @now, @now)
on conflict (key) do update set
  tries = case when t.since <= @begin then 1 else t.tries + 1 end,
  since = case when t.since <= @begin then @now else t.since end,
  next_at = @now
returning tries, since`

// TryAddress counts a try from an address. It gives how long is still to wait
// when there were more than most in the window, else 0.
func (t *Tx) TryAddress(ctx context.Context, key string, most int, window time.Duration, now time.Time) (time.Duration, error) {
	type count struct {
		Tries int
		Since time.Time
	}
	c, err := one[count](ctx, t.tx, tryAddress, args{"key": key, "now": now, "begin": now.Add(-window)})
	if err != nil || c.Tries <= most {
		return 0, err
	}
	return c.Since.Add(window).Sub(now), nil
}

const returnTry = `update throttles set tries = greatest(tries - 1, 0) where key = @key`

// ReturnTry takes back a try from an address that turned out to be right.
func (t *Tx) ReturnTry(ctx context.Context, key string) error {
	return t.exec(ctx, returnTry, args{"key": key})
}

const forgetTries = `delete from throttles where key = @key or next_at < @old`

// ForgetTries starts a key afresh, and drops what is long over.
func (t *Tx) ForgetTries(ctx context.Context, key string, now time.Time) error {
	return t.exec(ctx, forgetTries, args{"key": key, "old": now.Add(-48 * time.Hour)})
}
