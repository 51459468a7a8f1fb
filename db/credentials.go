package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// Credential is what a password is compared with.
type Credential struct {
	Person   commissioning.PersonID
	Password string // PHC string, "" when none is set or the person is disabled
}

const credential = `
select id as person, coalesce(case when disabled_at is null then password end, '') as password
from persons where id = @id or login = @login`

// CredentialOf gives the credential of a person; NotFound when there is none.
func (d *DB) CredentialOf(ctx context.Context, id commissioning.PersonID) (_ Credential, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "CredentialOf(%s)", id)
	return one[Credential](ctx, d.pool, credential, args{"id": id, "login": nil})
}

// CredentialFor gives the credential behind a login; NotFound when there is none.
func (d *DB) CredentialFor(ctx context.Context, login string) (_ Credential, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "CredentialFor")
	return one[Credential](ctx, d.pool, credential, args{"id": nil, "login": login})
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

// One statement takes the turn and says how long the next one has to wait, so
// that many at once can't try many passwords.
const takeTurn = `
insert into throttles as t (key, tries, next_at) values (@key, 1, @now)
on conflict (key) do update set
  tries = case when t.next_at + @forget < @now then 1 else t.tries + 1 end,
  next_at = @now + (@waits::interval[])[least(case when t.next_at + @forget < @now then 1 else t.tries + 1 end, cardinality(@waits::interval[]))]
where t.next_at <= @now
returning tries`

const nextTurn = `select next_at from throttles where key = @key`

// TakeTurn lets one try pass and sets when the next one may come: waits[n-1]
// after the nth in a row. A row that is older than forget counts from one again.
// It gives the wait when it is too early, 0 when the turn is taken.
func (t *Tx) TakeTurn(ctx context.Context, key string, waits []time.Duration, forget time.Duration, now time.Time) (time.Duration, error) {
	_, err := value[int](ctx, t.tx, takeTurn, args{"key": key, "now": now, "waits": waits, "forget": forget})
	if problem.KindOf(err) != problem.NotFound {
		return 0, err
	}
	next, err := value[time.Time](ctx, t.tx, nextTurn, args{"key": key})
	return next.Sub(now), err
}

const forgetTurns = `delete from throttles where key = @key or next_at < @old`

// ForgetTurns starts a key afresh, and drops what is long over.
func (t *Tx) ForgetTurns(ctx context.Context, key string, now time.Time) error {
	return t.exec(ctx, forgetTurns, args{"key": key, "old": now.Add(-24 * time.Hour)})
}
