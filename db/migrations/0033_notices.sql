-- +goose Up
-- What somebody was told of: each moment of a run once, whichever process saw
-- it first. The record itself says what happened, so this is no evidence.
create table notices (
  id       bigint generated always as identity primary key,
  run_id   uuid not null references runs (id),
  key      text not null,
  event    text not null check (event in ('stopped', 'check', 'ready', 'waiting')),
  at       timestamptz not null,
  text     text not null,
  told_at  timestamptz not null default clock_timestamp(),
  unique (run_id, key)
);
