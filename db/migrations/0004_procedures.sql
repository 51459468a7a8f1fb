-- +goose Up
create table procedures (
  key       text not null,
  revision  integer not null check (revision > 0),
  yaml      text not null,
  digest    bytea not null check (digest = sha256(convert_to(yaml, 'UTF8'))),
  author_id text references persons (id),     -- null: came with the product
  demo      boolean not null,
  added_at  timestamptz not null,
  stored_at timestamptz not null default clock_timestamp(),
  primary key (key, revision)
);

create table procedure_approvals (
  key         text not null,
  revision    integer not null,
  person_id   text not null references persons (id),
  name        text not null,
  method      text not null,
  approved_at timestamptz not null,
  stored_at   timestamptz not null default clock_timestamp(),
  primary key (key, revision),
  foreign key (key, revision) references procedures (key, revision)
);

call make_append_only('procedures', 'procedure_approvals');
