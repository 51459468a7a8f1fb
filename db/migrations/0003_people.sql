-- +goose Up
-- People, what they may do, and how they prove who they are.

create sequence person_codes;
create table persons (
  id           text primary key default code('P', nextval('person_codes')),
  name         text not null check (name <> ''),
  login        text not null unique check (login = lower(login) and login <> ''),
  password     text,                 -- argon2id, PHC string; null until an invite is used
  wrong_proofs integer not null default 0,
  created_at   timestamptz not null default clock_timestamp(),
  disabled_at  timestamptz
);

-- site_id null is every site.
create table grants (
  person_id text not null references persons (id),
  role      text not null check (role in ('engineer', 'supervisor', 'quality', 'administrator')),
  site_id   bigint references sites (id),
  unique nulls not distinct (person_id, role, site_id)
);

create function may(p_person text, p_role text, p_site bigint) returns boolean language sql stable as $$
  select exists (select 1 from grants g join persons p on p.id = g.person_id
    where p.id = p_person and p.disabled_at is null and g.role = p_role
      and (g.site_id is null or g.site_id = p_site))
$$;

-- person_id null is the code for the first administrator.
create table invites (
  code_hash  bytea primary key,
  person_id  text references persons (id),
  expires_at timestamptz not null,
  used_at    timestamptz,
  used_by    text references persons (id)
);

-- One row a login or address: how often it was tried, and from when on again.
create table throttles (
  key     text primary key,
  tries   integer not null,
  since   timestamptz not null,      -- when the count began
  next_at timestamptz not null
);

create table sessions (
  token_hash bytea primary key,      -- SHA-256 of the cookie's token
  data       bytea not null,
  expires_at timestamptz not null
);
create index sessions_by_expiry on sessions (expires_at);

create sequence logger_codes;
create table loggers (
  id      text primary key default code('L', nextval('logger_codes')),
  name    text not null check (name <> ''),
  site_id bigint not null references sites (id)
);

create table logger_units (
  logger_id text not null references loggers (id),
  unit      text not null references units (tag),
  primary key (logger_id, unit)
);
