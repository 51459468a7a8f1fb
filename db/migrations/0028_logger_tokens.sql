-- +goose Up
-- The quantities that a gateway may report; none named is all.
alter table loggers add quantities text[] not null default '{}';

-- What a gateway shows to be let in: shown once, kept as its hash. Several may
-- stand at once, so that one is replaced without a gap.
create table logger_tokens (
  id         text primary key check (id ~ '^[a-z2-7]{8}$'), -- stands in the token, so that people can name it
  logger_id  text not null references loggers (id),
  scope      text not null check (scope in ('report', 'read')),
  token_hash bytea not null unique check (length(token_hash) = 32),
  made_at    timestamptz not null,
  expires_at timestamptz not null check (expires_at > made_at),
  ended_at   timestamptz,
  used_at    timestamptz,            -- to the minute
  offset_ms  bigint                  -- the server's clock less the gateway's, when it last said its own
);
create index logger_tokens_by_logger on logger_tokens (logger_id);

insert into register_acts values ('logger token made'), ('logger token ended');
