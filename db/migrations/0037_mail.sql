-- +goose Up
-- Who wants to be told by e-mail, and of what. A person's own setting, no evidence.
create table mail_wishes (
  person_id text primary key references persons (id),
  address   text not null,
  events    text[] not null
);
