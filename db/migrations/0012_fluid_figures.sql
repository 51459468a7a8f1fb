-- +goose Up
-- Numbers of a fluid's data sheet, each with the source that it was read in:
-- {"density": {"value": "0.805", "source": "…"}}. They feed estimates only; no
-- run is judged by them.
alter table fluids add column figures jsonb not null default '{}' check (jsonb_typeof(figures) = 'object');
