package db

import (
	"context"
	"time"

	"settlemark/internal/commissioning"
	"settlemark/internal/problem"
)

const insertLoggerToken = `
insert into logger_tokens (id, logger_id, scope, token_hash, made_at, expires_at)
values (@id, @logger, @scope, @hash, @made, @expires)`

// AddLoggerToken keeps a gateway's token by its hash.
func (t *Tx) AddLoggerToken(ctx context.Context, v commissioning.LoggerToken, hash []byte) error {
	return t.exec(ctx, insertLoggerToken, args{
		"id": v.ID, "logger": v.Logger, "scope": v.Scope, "hash": hash, "made": v.MadeAt, "expires": v.ExpiresAt,
	})
}

const endLoggerToken = `
update logger_tokens set ended_at = @now where id = @id and logger_id = @logger and ended_at is null returning id`

// EndLoggerToken makes a token void, and says whether it stood until now.
func (t *Tx) EndLoggerToken(ctx context.Context, logger, id string, now time.Time) (bool, error) {
	ended, err := column[string](ctx, t.tx, endLoggerToken, args{"id": id, "logger": logger, "now": now})
	return len(ended) > 0, err
}

const keysOfLogger = `
select id, logger_id as logger, scope, made_at, expires_at, ended_at, used_at, offset_ms
from logger_tokens where @logger::text is null or logger_id = @logger order by made_at desc, id`

// LoggerTokens gives the tokens of one gateway, or of all for "", newest first.
func (d *DB) LoggerTokens(ctx context.Context, logger string) (_ []commissioning.LoggerToken, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "LoggerTokens(%s)", logger)
	return list[commissioning.LoggerToken](ctx, d.pool, keysOfLogger, args{"logger": nilIfEmpty(logger)})
}

const keyByHash = `
select id, logger_id as logger, scope, made_at, expires_at, ended_at, used_at, offset_ms
from logger_tokens where token_hash = @hash`

// LoggerToken finds a token by its hash, whether it is still good or not.
func (d *DB) LoggerToken(ctx context.Context, hash []byte) (_ commissioning.LoggerToken, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "LoggerToken")
	return one[commissioning.LoggerToken](ctx, d.pool, keyByHash, args{"hash": hash})
}

const useLoggerToken = `update logger_tokens set used_at = @now, offset_ms = coalesce(@offset, offset_ms) where id = @id`

// UseLoggerToken notes when a token was used, and how far the gateway's clock
// was off when it said so.
func (t *Tx) UseLoggerToken(ctx context.Context, id string, offset *int64, now time.Time) error {
	return t.exec(ctx, useLoggerToken, args{"id": id, "offset": offset, "now": now})
}

const openRunOf = `select id from runs where unit = @unit and site_id = @site and state = 'open'`

// OpenRunOf gives the open run of a unit. NotFound when there is none.
func (d *DB) OpenRunOf(ctx context.Context, site commissioning.SiteID, unit string) (_ commissioning.RunID, err error) {
	ctx, cancel := deadline(ctx)
	defer cancel()
	defer problem.Wrap(&err, "OpenRunOf(%s)", unit)
	return value[commissioning.RunID](ctx, d.pool, openRunOf, args{"unit": unit, "site": site})
}

const clashes = `
select s.id from unnest(@ids::text[], @hashes::bytea[]) as s (id, hash) join entries e on e.id = s.id::uuid
where e.run_id <> @run or e.sent_hash <> s.hash`

// Clashes gives those of the ids that are stored with other content, or in
// another run.
func (t *Tx) Clashes(ctx context.Context, run commissioning.RunID, ids []string, hashes [][]byte) ([]string, error) {
	return column[string](ctx, t.tx, clashes, args{"run": run, "ids": ids, "hashes": hashes})
}
