-- +goose Up
-- A run and its logbook. runs holds the state and the head of the chain; what
-- it was opened on is fixed by the trigger below.

create table runs (
  id        uuid primary key,
  number    bigint not null unique,
  unit      text not null references units (tag),
  site_id   bigint not null references sites (id),
  procedure text not null,
  revision  integer not null,
  opening   bytea not null,          -- canonical JSON: unit, site, procedure, bench as they were
  opened_at timestamptz not null,
  opened_by text not null references persons (id),
  stored_at timestamptz not null default clock_timestamp(),
  demo      boolean not null,
  state     text not null default 'open' check (state in ('open', 'submitted', 'released', 'abandoned')),
  round     integer not null default 1,
  seq       integer not null default 0,
  head      bytea not null check (length(head) = 32),
  pen       text not null references persons (id),
  foreign key (procedure, revision) references procedures (key, revision)
);
create unique index one_live_run_per_unit on runs (unit) where state in ('open', 'submitted');
create index runs_by_unit on runs (unit, opened_at);

-- +goose StatementBegin
create function guard_run() returns trigger language plpgsql as $$
begin
  if (old.id, old.number, old.unit, old.site_id, old.procedure, old.revision, old.opening,
      old.opened_at, old.opened_by, old.stored_at, old.demo)
     is distinct from
     (new.id, new.number, new.unit, new.site_id, new.procedure, new.revision, new.opening,
      new.opened_at, new.opened_by, new.stored_at, new.demo)
     or new.seq < old.seq
     or (new.seq = old.seq) <> (new.head = old.head)
     or not (old.state, new.state, new.round - old.round) in (
       ('open', 'open', 0), ('open', 'submitted', 0), ('open', 'abandoned', 0),
       ('submitted', 'submitted', 0), ('submitted', 'open', 1), ('submitted', 'released', 0))
     or (new.seq > old.seq) and not exists (
       select 1 from posts p where p.run_id = new.id and p.last_seq = new.seq and p.chain = new.head)
     or new.state <> 'open' and new.pen <> old.pen then
    raise exception 'run % may not become that', old.id using errcode = 'SMAPP';
  end if;
  return new;
end $$;
-- +goose StatementEnd
create trigger guard_run before update on runs for each row execute function guard_run();
alter table runs enable always trigger guard_run;
create trigger append_only before delete or truncate on runs for each statement execute function refuse_change();
alter table runs enable always trigger append_only;

-- One link of the chain a post. previous of the first is the digest of the opening.
create table posts (
  run_id      uuid not null references runs (id),
  first_seq   integer not null,
  last_seq    integer not null check (last_seq >= first_seq),
  digest      bytea not null,        -- SHA-256 of the canonical JSON array of the entries
  previous    bytea not null,
  chain       bytea not null check (chain = sha256('run-chain/1'::bytea || '\x00'::bytea || previous || int4send(last_seq) || digest)),
  received_at timestamptz not null,
  primary key (run_id, last_seq),
  unique (run_id, first_seq),
  unique (run_id, previous)
);

create table entries (
  id          uuid primary key,      -- made by the client
  run_id      uuid not null,
  seq         integer not null,
  post_seq    integer not null check (seq <= post_seq),
  kind        text not null,
  person_id   text references persons (id),
  logger_id   text references loggers (id),
  observed_at timestamptz not null,
  received_at timestamptz not null,
  sent_hash   bytea not null,        -- SHA-256 of the canonical JSON that the client sent
  body        bytea not null,        -- canonical JSON of the entry as stored; never written anew
  unique (run_id, seq),
  foreign key (run_id, post_seq) references posts (run_id, last_seq),
  check (num_nonnulls(person_id, logger_id) = 1)
);
create index entries_by_person on entries (person_id, run_id);

-- Everybody who opened, recorded, took the pen or submitted. A disposition makes nobody one.
create table contributors (
  run_id    uuid not null references runs (id),
  person_id text not null references persons (id),
  since     timestamptz not null default clock_timestamp(),
  primary key (run_id, person_id)
);

create table photos (
  run_id     uuid not null references runs (id),
  digest     bytea not null check (digest = sha256(bytes)),
  original   bytea not null check (length(original) = 32),   -- SHA-256 of what was sent
  media_type text not null,
  width      integer not null,
  height     integer not null,
  bytes      bytea not null check (length(bytes) <= 8000000),
  person_id  text not null references persons (id),
  stored_at  timestamptz not null default clock_timestamp(),
  primary key (run_id, digest)
);
alter table photos alter column bytes set storage external;  -- JPEG does not compress

call make_append_only('posts', 'entries', 'contributors', 'photos');
