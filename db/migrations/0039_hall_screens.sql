-- +goose Up
-- A screen in the hall shows the board of its site to whoever walks past. Its
-- link opens it once; from then on the hash is that of the screen's cookie.
create table hall_screens (
  id         text primary key check (id ~ '^[a-z2-7]{8}$'), -- stands in the link, so that people can name it
  name       text not null check (name <> ''),
  site_id    bigint not null references sites (id),
  token_hash bytea not null unique check (length(token_hash) = 32),
  made_at    timestamptz not null,
  expires_at timestamptz not null check (expires_at > made_at),
  opened_at  timestamptz,
  ended_at   timestamptz,
  used_at    timestamptz             -- to the minute
);

insert into register_acts values ('hall screen made'), ('hall screen ended');
