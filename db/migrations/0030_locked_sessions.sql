-- +goose Up
-- A screen that nobody touched is locked until its person proves who they are.
alter table sessions add locked boolean not null default false;
