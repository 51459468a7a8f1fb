-- +goose Up
-- How the files of a unit's controller are read: a setting, no evidence.
create table import_mappings (
  unit     text primary key references units (tag),
  mapping  text not null,
  saved_by text not null references persons (id),
  saved_at timestamptz not null
);
