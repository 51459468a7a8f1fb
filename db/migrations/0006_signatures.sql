-- +goose Up
-- What people signed. A return voids signatures by starting the next round, so
-- nothing here is ever updated.

create table sample_readings (
  run_id    uuid not null references runs (id),
  round     integer not null,
  person_id text not null references persons (id),
  text      text not null check (text <> ''),
  read_at   timestamptz not null,
  stored_at timestamptz not null default clock_timestamp(),
  primary key (run_id, round, person_id)
);

-- A countersignature points at the submission by round, engineer and head, so
-- one over something else, or over one's own work, can't be written down.
create table signatures (
  run_id         uuid not null references runs (id),
  round          integer not null,
  kind           text not null check (kind in ('submit', 'countersign')),
  person_id      text not null references persons (id),
  name           text not null,
  role           text not null,
  meaning        text not null,
  method         text not null,
  signed_at      timestamptz not null,
  stored_at      timestamptz not null default clock_timestamp(),
  head           bytea not null check (length(head) = 32),
  nonce          text not null unique check (nonce <> ''),
  assessment     bytea not null,
  digest         bytea not null check (digest = sha256(assessment)),
  over           text check (over = 'submit'),
  engineer_id    text,
  submitted_head bytea,
  reading        text,
  agrees         boolean,
  mismatch       text,
  primary key (run_id, round, kind),
  unique (run_id, round, kind, person_id, head),
  foreign key (run_id, round, over, engineer_id, submitted_head)
    references signatures (run_id, round, kind, person_id, head),
  check ((kind = 'submit') = (num_nulls(over, engineer_id, submitted_head, reading, agrees, mismatch) = 6)),
  check ((kind = 'countersign') = (num_nonnulls(over, engineer_id, submitted_head, reading, agrees, mismatch) = 6)),
  check (person_id <> engineer_id),
  check (agrees or mismatch <> '')
);

create table returns (
  run_id      uuid not null references runs (id),
  round       integer not null,      -- the round that it ended
  person_id   text not null references persons (id),
  name        text not null,
  head        bytea not null,
  reason      text not null check (reason <> ''),
  returned_at timestamptz not null,
  stored_at   timestamptz not null default clock_timestamp(),
  primary key (run_id, round)
);

create table abandonments (
  run_id       uuid primary key references runs (id),
  person_id    text not null references persons (id),
  reason       text not null check (reason <> ''),
  abandoned_at timestamptz not null,
  stored_at    timestamptz not null default clock_timestamp()
);

call make_append_only('sample_readings', 'signatures', 'returns', 'abandonments');
