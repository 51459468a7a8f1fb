package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// Factors are the second factors of a person, without secrets.
type Factors struct {
	App      bool  // an authenticator app gives codes
	LastStep int64 // of the newest code that was used
	Recovery int   // recovery codes that are left
	Passkeys []PasskeyRow
}

// PasskeyRow is one passkey as it is stored.
type PasskeyRow struct {
	ID        []byte
	Person    commissioning.PersonID
	Name      string
	PublicKey []byte
	RP        string
	Count     int64
	AddedAt   time.Time
	UsedAt    *time.Time
}

const factors = `
select exists (select 1 from code_seeds s where s.person_id = p.id and s.seed is not null) as app,
  coalesce((select last_step from code_seeds s where s.person_id = p.id), 0) as last_step,
  (select count(*) from recovery_codes r where r.person_id = p.id and r.used_at is null) as recovery
from persons p where p.id = @person`

const keysOfPerson = `
select id, person_id as person, name, public_key, rp, count, added_at, used_at from passkeys
where person_id = @person order by added_at, id`

// Factors gives what a person can prove their identity with, beside a password.
func (d *DB) Factors(ctx context.Context, id commissioning.PersonID) (_ Factors, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Factors(%s)", id)
	type row struct {
		App                bool
		LastStep, Recovery int64
	}
	r, err := one[row](ctx, d.pool, factors, args{"person": id})
	if err != nil {
		return Factors{}, err
	}
	f := Factors{App: r.App, LastStep: r.LastStep, Recovery: int(r.Recovery)}
	f.Passkeys, err = list[PasskeyRow](ctx, d.pool, keysOfPerson, args{"person": id})
	return f, err
}

const keyByID = `
select id, person_id as person, name, public_key, rp, count, added_at, used_at from passkeys where id = @id`

// Passkey gives one passkey, whosever it is; NotFound when there is none.
func (d *DB) Passkey(ctx context.Context, id []byte) (_ PasskeyRow, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "Passkey")
	return one[PasskeyRow](ctx, d.pool, keyByID, args{"id": id})
}

const insertPasskey = `
insert into passkeys (id, person_id, name, public_key, rp, count, added_at)
values (@id, @person, @name, @public_key, @rp, @count, @now)`

// AddPasskey keeps a new passkey. One that is somebody's already is a Conflict.
func (t *Tx) AddPasskey(ctx context.Context, k PasskeyRow, now time.Time) error {
	return t.exec(ctx, insertPasskey, args{
		"id": k.ID, "person": k.Person, "name": k.Name, "public_key": k.PublicKey, "rp": k.RP, "count": k.Count, "now": now,
	})
}

// A device that counts never goes back: one that does was copied.
const usePasskey = `
update passkeys set count = @count, used_at = @now
where id = @id and person_id = @person and (count < @count or @count = 0 and count = 0) returning id`

// UsePasskey notes that a passkey signed and gives whether its count moved on.
func (t *Tx) UsePasskey(ctx context.Context, id []byte, person commissioning.PersonID, count int64, now time.Time) (bool, error) {
	return t.happened(ctx, usePasskey, args{"id": id, "person": person, "count": count, "now": now})
}

const removePasskey = `delete from passkeys where id = @id and person_id = @person returning id`

// RemovePasskey takes a passkey from its person. What it signed stays.
func (t *Tx) RemovePasskey(ctx context.Context, id []byte, person commissioning.PersonID) (bool, error) {
	return t.happened(ctx, removePasskey, args{"id": id, "person": person})
}

const keepAssertion = `select keep_assertion(@nonce, @person, @content, @body)`

// KeepAssertion stores what a passkey signed; false when the very same is stored.
// Another one in the same form is a Conflict.
func (t *Tx) KeepAssertion(ctx context.Context, nonce string, person commissioning.PersonID, content, body []byte) (bool, error) {
	return value[bool](ctx, t.tx, keepAssertion, args{"nonce": nonce, "person": person, "content": content, "body": body})
}

// happened runs a statement that gives one row when it changed something.
func (t *Tx) happened(ctx context.Context, sql string, a args) (bool, error) {
	_, err := value[any](ctx, t.tx, sql, a)
	if problem.KindOf(err) == problem.NotFound {
		return false, nil
	}
	return err == nil, err
}
