-- +goose Up
-- A release exists from the countersignature's commit on. Each follows the
-- unit's one before it (previous), so a unit's certificates are one line and at
-- most one of them stands.

create table releases (
  number      text primary key,
  run_id      uuid not null unique references runs (id),
  round       integer not null,
  signed      text not null default 'countersign' check (signed = 'countersign'),
  unit        text not null references units (tag),
  site_id     bigint not null references sites (id),
  line        text not null,
  engineer    text not null,         -- printed names
  supervisor  text not null,
  lots        text[] not null,
  released_at timestamptz not null,
  valid_until timestamptz,
  previous    text,
  document    bytea not null,        -- canonical JSON of all that the PDF says
  digest      bytea not null check (digest = sha256(document)),
  stored_at   timestamptz not null default clock_timestamp(),
  foreign key (run_id, round, signed) references signatures (run_id, round, kind),
  unique (unit, number),
  unique nulls not distinct (unit, previous),
  foreign key (unit, previous) references releases (unit, number)
);
create index releases_by_instant on releases (released_at);

create table certificate_pdfs (
  number    text primary key references releases (number),
  pdf       bytea not null,
  digest    bytea not null check (digest = sha256(pdf)),
  stored_at timestamptz not null default clock_timestamp()
);
alter table certificate_pdfs alter column pdf set storage external;

create table certificate_status (
  number    text not null references releases (number),
  status    text not null check (status in ('superseded', 'withdrawn')),
  at        timestamptz not null,
  person_id text not null references persons (id),
  name      text not null,
  reason    text not null check (reason <> ''),
  successor text references releases (number),
  stored_at timestamptz not null default clock_timestamp(),
  primary key (number, status),
  check ((status = 'superseded') = (successor is not null))
);

call make_append_only('releases', 'certificate_pdfs', 'certificate_status');
