package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
)

const anybody = `select exists (select 1 from persons)`

// Anybody says whether a person exists.
func (t *Tx) Anybody(ctx context.Context) (bool, error) {
	return value[bool](ctx, t.tx, anybody, args{})
}

// An older code of the same person, or an older setup code, ends here.
const endInvites = `
update invites set expires_at = @now
where used_at is null and expires_at > @now and person_id is not distinct from @person and code_hash <> @hash`

const insertInvite = `
insert into invites (code_hash, person_id, expires_at, resets) values (@hash, @person, @expires, @resets)
on conflict (code_hash) do nothing`

// Invite is a one-time code: for a person, or for the first administrator when
// Person is "".
type Invite struct {
	Hash    []byte
	Person  commissioning.PersonID
	Resets  string // what its holder sets anew: "password", "factors" or "both"
	Expires time.Time
}

// Invite keeps a one-time code. The code before it is void.
func (t *Tx) Invite(ctx context.Context, i Invite, now time.Time) error {
	if err := t.exec(ctx, endInvites, args{"person": nilIfEmpty(i.Person), "hash": i.Hash, "now": now}); err != nil {
		return err
	}
	return t.exec(ctx, insertInvite, args{
		"hash": i.Hash, "person": nilIfEmpty(i.Person), "expires": i.Expires, "resets": i.Resets,
	})
}

// UsedInvite is a one-time code that was found.
type UsedInvite struct {
	Person commissioning.PersonID // "" for the first administrator
	UsedBy commissioning.PersonID // "" when it was not used before
	Resets string
}

const lockInvite = `
select coalesce(person_id, '') as person, coalesce(used_by, '') as used_by, resets
from invites where code_hash = @hash and expires_at > @now for update`

// LockInvite finds a one-time code that is not over, used or not.
func (t *Tx) LockInvite(ctx context.Context, hash []byte, now time.Time) (UsedInvite, error) {
	return one[UsedInvite](ctx, t.tx, lockInvite, args{"hash": hash, "now": now})
}

const useInvite = `
update invites set used_at = @now, used_by = @person where code_hash = @hash and used_at is null`

// UseInvite marks the code as used by the person.
func (t *Tx) UseInvite(ctx context.Context, hash []byte, person commissioning.PersonID, now time.Time) error {
	return t.exec(ctx, useInvite, args{"hash": hash, "person": person, "now": now})
}

// nilIfEmpty makes null of an empty code.
func nilIfEmpty[T ~string](s T) *string {
	if s == "" {
		return nil
	}
	text := string(s)
	return &text
}
