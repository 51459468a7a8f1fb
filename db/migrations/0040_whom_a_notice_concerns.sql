-- +goose Up
-- Whom a notice concerns, as that stood when it was told: whoever hears a noise
-- and whoever gets an e-mail are the same.
alter table notices add column people text[] not null default '{}';
