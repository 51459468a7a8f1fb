-- +goose Up
-- Places, fluids and units. Runs copy what they need of them when they are
-- opened, so a later change here changes no evidence.

create table sites (
  id        bigint generated always as identity primary key,
  name      text not null unique check (name <> ''),
  address   text not null,
  time_zone text not null check (time_zone <> ''),
  paper     text not null check (paper in ('A4', 'Letter')),
  demo      boolean not null
);

create table lines (
  id      bigint generated always as identity primary key,
  site_id bigint not null references sites (id),
  name    text not null check (name <> ''),
  unique (site_id, name),
  unique (id, site_id)
);

create table benches (
  id      bigint generated always as identity primary key,
  site_id bigint not null references sites (id),
  name    text not null check (name <> ''),
  unique (site_id, name)
);

create table fluids (
  code     text primary key check (code <> ''),
  name     text not null,
  position text not null check (position in ('ink', 'makeup')),
  base     text not null
);

create table units (
  tag     text primary key check (tag <> ''),
  site_id bigint not null references sites (id),
  line_id bigint not null,
  serial  text not null,
  ink     text not null references fluids (code),
  makeup  text not null references fluids (code),
  place   integer not null,
  foreign key (line_id, site_id) references lines (id, site_id),
  unique (site_id, place)
);
