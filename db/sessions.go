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

const commitSession = `
insert into sessions (token_hash, data, expires_at) values (@token, @data, @expires)
on conflict (token_hash) do update set data = @data, expires_at = @expires`

const dropSessions = `delete from sessions where token_hash = @token or expires_at < now()`

func (s sessionStore) CommitCtx(ctx context.Context, token string, data []byte, expiry time.Time) error {
	ctx, cancel := deadline(ctx)
	defer cancel()
	_, err := s.d.pool.Exec(ctx, commitSession, args{"token": tokenHash(token), "data": data, "expires": expiry})
	return explain(err)
}

// DeleteCtx drops the session, and all that have expired.
func (s sessionStore) DeleteCtx(ctx context.Context, token string) error {
	ctx, cancel := deadline(ctx)
	defer cancel()
	_, err := s.d.pool.Exec(ctx, dropSessions, args{"token": tokenHash(token)})
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
delete from sessions where convert_from(data, 'UTF8')::json #>> '{values,person}' = @person::text`

// EndSessions ends every session of a person: their next request is signed out.
func (d *DB) EndSessions(ctx context.Context, id commissioning.PersonID) (err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "EndSessions(%s)", id)
	_, err = d.pool.Exec(ctx, endSessions, args{"person": string(id)})
	return explain(err)
}
