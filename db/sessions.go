package db

import (
	"context"
	"crypto/sha256"
	"time"

	"github.com/alexedwards/scs/v2"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

// SessionStore keeps sessions so that every process shares them. Only the hash
// of a cookie's token is stored: who reads the table can't take over a session.
func (d *DB) SessionStore() scs.CtxStore { return sessionStore{d} }

type sessionStore struct{ d *DB }

const findSession = `select data from sessions where token_hash = @token and expires_at > now()`

func (s sessionStore) FindCtx(ctx context.Context, token string) (_ []byte, found bool, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	data, err := value[[]byte](ctx, s.d.pool, findSession, args{"token": tokenHash(token)})
	if problem.KindOf(err) == problem.NotFound {
		return nil, false, nil
	}
	return data, err == nil, err
}

// A session that was ended stays ended: a request that was under way writes what
// it read before, and must not bring the session back.
const commitSession = `
insert into sessions as s (token_hash, data, expires_at) values (@token, @data, @expires)
on conflict (token_hash) do update set data = @data, expires_at = @expires, seen_at = now() where s.expires_at > now()`

const endSession = `update sessions set data = '{}', expires_at = now() where token_hash = @token`

const dropSessions = `delete from sessions where expires_at < now() - interval '1 day'`

func (s sessionStore) CommitCtx(ctx context.Context, token string, data []byte, expiry time.Time) error {
	ctx, cancel := deadline(ctx)
	defer cancel()
	_, err := s.d.pool.Exec(ctx, commitSession, args{"token": tokenHash(token), "data": data, "expires": expiry})
	return explain(err)
}

// DeleteCtx ends the session, and drops those that ended long ago.
func (s sessionStore) DeleteCtx(ctx context.Context, token string) error {
	ctx, cancel := deadline(ctx)
	defer cancel()
	if _, err := s.d.pool.Exec(ctx, endSession, args{"token": tokenHash(token)}); err != nil {
		return explain(err)
	}
	_, err := s.d.pool.Exec(ctx, dropSessions, args{})
	return explain(err)
}

func (s sessionStore) Find(token string) ([]byte, bool, error) {
	return s.FindCtx(context.TODO(), token)
}

func (s sessionStore) Commit(token string, data []byte, expiry time.Time) error {
	return s.CommitCtx(context.TODO(), token, data, expiry)
}

func (s sessionStore) Delete(token string) error {
	return s.DeleteCtx(context.TODO(), token)
}

func tokenHash(token string) []byte {
	sum := sha256.Sum256([]byte(token))
	return sum[:]
}

// The data of a session is JSON, so that the sessions of one person are found.
const endSessions = `
update sessions set data = '{}', expires_at = now()
where expires_at > now() and convert_from(data, 'UTF8')::json #>> '{values,person}' = @person::text
  and (@device = '' or convert_from(data, 'UTF8')::json #>> '{values,device}' = @device)`

// EndSessions ends every session of a person: their next request is signed out.
func (t *Tx) EndSessions(ctx context.Context, id commissioning.PersonID) error {
	return t.exec(ctx, endSessions, args{"person": string(id), "device": ""})
}

const endAllSessions = `update sessions set data = '{}', expires_at = now() where expires_at > now()`

// EndAllSessions signs everybody out.
func (t *Tx) EndAllSessions(ctx context.Context) error { return t.exec(ctx, endAllSessions, args{}) }

// EndSessions is that of a transaction, by itself.
func (d *DB) EndSessions(ctx context.Context, id commissioning.PersonID) error {
	return d.EndSession(ctx, id, "")
}

// EndSession ends the session of a person on one device, "" for every one.
func (d *DB) EndSession(ctx context.Context, id commissioning.PersonID, device string) (err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "EndSession(%s)", id)
	_, err = d.pool.Exec(ctx, endSessions, args{"person": string(id), "device": device})
	return explain(err)
}

const lockSession = `update sessions set locked = true where token_hash = @token`

// LockSession locks the session of a token. Only a new token unlocks it.
func (d *DB) LockSession(ctx context.Context, token string) (err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "LockSession")
	_, err = d.pool.Exec(ctx, lockSession, args{"token": tokenHash(token)})
	return explain(err)
}

const sessionLocked = `select exists (select 1 from sessions where token_hash = @token and locked)`

// SessionLocked says whether the session of a token is locked.
func (d *DB) SessionLocked(ctx context.Context, token string) (_ bool, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "SessionLocked")
	return value[bool](ctx, d.pool, sessionLocked, args{"token": tokenHash(token)})
}

// Session is one place where a person is signed in.
type Session struct {
	Device string // as entries from there name it
	Agent  string // in words, "" when it is not known
	Since  time.Time
	SeenAt time.Time // its last request
}

const sessionsOf = `
select v ->> 'device' as device, coalesce(v ->> 'agent', '') as agent, coalesce((v ->> 'since')::timestamptz, seen_at) as since, seen_at
from sessions, lateral (select convert_from(data, 'UTF8')::json -> 'values' as v) as kept
where expires_at > now() and v ->> 'person' = @person::text
order by seen_at desc, device`

// SessionsOf gives where a person is signed in, the latest request first.
func (d *DB) SessionsOf(ctx context.Context, id commissioning.PersonID) (_ []Session, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "SessionsOf(%s)", id)
	return list[Session](ctx, d.pool, sessionsOf, args{"person": string(id)})
}
