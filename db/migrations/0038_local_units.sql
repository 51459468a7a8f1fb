-- +goose Up
-- The units that pages write in brackets beside those of the record: a person's
-- own choice, else that of the site; '' is not chosen, 'si' is none. Records and
-- certificates are in the units in which they were recorded.
alter table persons add column units text not null default '' check (units in ('', 'si', 'bar', 'us'));
alter table sites add column units text not null default '' check (units in ('', 'si', 'bar', 'us'));
